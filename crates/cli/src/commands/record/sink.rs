//! Where a recording goes: one file, standard output, or a folder of frames.

use std::fmt::Write as _;
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::time::Duration;

use anyhow::Result;
use backporch_input::{Overwrite, WholeFile, WholeFolder, cannot_write};
use backporch_picture::record::{ApngRecorder, GifRecorder, Opening, Recorder, RecordingSummary};
use backporch_picture::write::png;

use super::RecordForm;
use super::film::Shot;

/// The table of a folder's frames.
const TABLE: &str = "frames.csv";

/// When a frame is shown.
#[derive(Clone, Copy, Debug)]
pub struct When {
    pub starts: Duration,
    pub ends: Duration,
}

/// Takes frames.
pub trait Sink {
    fn take(&mut self, shot: Shot, when: When) -> Result<()>;
}

/// Opens the place of a recording, has it filled, and lets it stand there only if all went well.
pub fn fill(
    path: &Path,
    (form, overwrite): (RecordForm, Overwrite),
    opening: Opening,
    frames: impl FnOnce(&mut dyn Sink) -> Result<()>,
) -> Result<RecordingSummary> {
    match form {
        RecordForm::Png => {
            let mut folder = Folder::new(path)?;
            frames(&mut folder)?;
            folder.finish()
        }
        _ if path.as_os_str() == "-" => into(BufWriter::new(io::stdout().lock()), form, opening, frames),
        _ => {
            overwrite.check(path, None)?;
            let mut file = WholeFile::create(path)?;
            // What the system says of the file under way is meant of the one asked for.
            let named = |error: anyhow::Error| match error.chain().find_map(|cause| cause.downcast_ref::<io::Error>()) {
                Some(cause) => cannot_write(path, cause).into(),
                None => error,
            };
            let written = into(&mut file, form, opening, frames).map_err(named)?;
            file.finish()?;
            Ok(written)
        }
    }
}

/// Records into a stream of bytes.
fn into<W: Write>(
    out: W,
    form: RecordForm,
    opening: Opening,
    frames: impl FnOnce(&mut dyn Sink) -> Result<()>,
) -> Result<RecordingSummary> {
    let mut recorder = match form {
        RecordForm::Gif => Recorder::Gif(GifRecorder::new(out, opening)?),
        RecordForm::Apng | RecordForm::Png => Recorder::Apng(ApngRecorder::new(out, opening)?),
    };
    frames(&mut recorder)?;
    Ok(recorder.finish()?)
}

impl<W: Write> Sink for Recorder<W> {
    fn take(&mut self, shot: Shot, when: When) -> Result<()> {
        Ok(self.show(shot.image, when.ends - when.starts)?)
    }
}

/// A file for each frame, and a table that says when each is shown.
struct Folder {
    folder: WholeFolder,
    table: String,
    written: RecordingSummary,
}

impl Folder {
    fn new(path: &Path) -> Result<Self> {
        let folder = WholeFolder::create(path)?;
        let table = "file,starts_s,lasts_s,setting,verdict,damaged_lines,visible_lines\n".to_string();
        Ok(Self { folder, table, written: RecordingSummary::default() })
    }

    fn finish(mut self) -> Result<RecordingSummary> {
        self.folder.write(TABLE, self.table.as_bytes())?;
        self.folder.finish()?;
        Ok(self.written)
    }
}

impl Sink for Folder {
    fn take(&mut self, shot: Shot, When { starts, ends }: When) -> Result<()> {
        let name = format!("{:06}.png", self.written.frames);
        self.folder.write(&name, &png(&shot.image)?)?;
        writeln!(
            self.table,
            "{name},{:.6},{:.6},{},{},{},{}",
            starts.as_secs_f64(),
            (ends - starts).as_secs_f64(),
            quoted(&shot.setting),
            shot.damage.verdict().word(),
            shot.damage.damaged_lines(),
            shot.damage.visible_lines()
        )?;
        self.written.frames += 1;
        self.written.shown += 1;
        self.written.lasts = ends;
        Ok(())
    }
}

/// A text as one field of a table of comma-separated values (RFC 4180).
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}
