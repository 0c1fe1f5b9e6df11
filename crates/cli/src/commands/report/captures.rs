//! What captures of the real screen show, for the page.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_adapter::FieldId;
use backporch_answer::MeasuredLookAnswer;
use backporch_bench::{Bench, Handed, Pack};
use backporch_input::{FileOfCase, Holds, InputError, read_bytes};
use backporch_measure::{Expected, LineEvidence, MOST_FILE_BYTES, annotated, colour};
use backporch_picture::record::ScreenShape;
use backporch_report::page::{CapturedLine, CapturedLook, CapturedPicture, CapturesPart, EmbeddedPicture};

use crate::commands::measure::{CaptureSettings, Measured, Reading, is_video, registers_at, with_series};
use crate::output::Output;

/// The longest side of a capture on the page, in pixels.
const LONGEST: u32 = 1000;

/// What was read, and the files it was read from.
pub struct ReadCaptures {
    pub part: CapturesPart,
    /// Lines of all looks that are not as meant.
    pub wrong: u32,
    files: Vec<CaptureFile>,
}

/// A file as it is handed along with the case.
struct CaptureFile {
    path: PathBuf,
    bytes: Vec<u8>,
}

impl ReadCaptures {
    /// Reads captures of steps of a register.
    pub fn read(settings: CaptureSettings, bench: &Bench, over: FieldId, output: &Output) -> Result<Self> {
        let paths = with_series(settings.captures)?;
        if let Some(path) = paths.iter().find(|path| path.is_dir() || is_video(path)) {
            let found = if path.is_dir() { "a folder" } else { "a video" };
            let allowed = "pictures, one by one or as a series (look-%d.png): they go into the page's case";
            return Err(InputError::new(path.display().to_string(), found, allowed).into());
        }
        let settings = CaptureSettings { captures: &paths, ..settings };
        let reading = settings.reading(bench.clone(), over, output)?;
        let files = paths.into_iter().map(|path| {
            let bytes = read_bytes(&path, MOST_FILE_BYTES)?;
            Ok(CaptureFile { path, bytes })
        });
        let files = files.collect::<Result<Vec<_>, InputError>>()?;
        let looks = reading.measured.iter().map(|one| look(&reading, one, over)).collect::<Result<Vec<_>>>()?;
        let wrong = looks.iter().map(|(_, wrong)| wrong).sum();
        let remarks = reading.card(over)?.map(|card| format!("{}.", capital(&card.says()))).into_iter().collect();
        let part = CapturesPart { remarks, looks: looks.into_iter().map(|(look, _)| look).collect() };
        Ok(Self { part, wrong, files })
    }

    /// The files as they are handed along with the case, so that the page can be made again.
    pub fn handed(&self) -> impl Iterator<Item = Handed> {
        self.files.iter().map(|CaptureFile { path, bytes }| {
            let file = FileOfCase { name: base_of(path), holds: Holds::Other, bytes: bytes.clone() };
            Handed { path: path.clone(), file }
        })
    }

    /// The names that the files have in the pack, in the order in which they were named.
    pub fn packed<'a>(&self, pack: &'a Pack) -> impl Iterator<Item = &'a str> {
        let named = |one: &CaptureFile| pack.files.iter().find(|file| file.bytes == one.bytes);
        self.files.iter().filter_map(named).map(|file| file.name.as_str()).collect::<Vec<_>>().into_iter()
    }
}

fn look(reading: &Reading, measured: &Measured, over: FieldId) -> Result<(CapturedLook, u32)> {
    let bench = &reading.shown.bench;
    let Measured { look, expected, measurement } = measured;
    let answer = measured.answer(bench, over, &[]);
    let captures = look.captures.iter().zip(&measurement.captures).zip(look.files.iter().zip(&answer.captures));
    let captures = captures.map(|((capture, report), (path, says))| {
        let drawn = annotated(expected, capture, &report.geometry, &measurement.lines, LONGEST);
        let picture = EmbeddedPicture::of_photograph(&drawn)?;
        Ok(CapturedPicture { name: base_of(path), says: says.says(), picture })
    });
    let registers = registers_at(bench, over, look.step)?;
    let adapter = bench.adapter();
    let signals = adapter.signal(&adapter.start_up(bench.mode())).ok().zip(adapter.signal(&registers).ok());
    let shown = CapturedLook {
        setting: answer.setting(),
        says: format!("{}.", answer.counts()),
        meant: meant(expected)?,
        shape: signals.map_or(4.0 / 3.0, |(usual, now)| ScreenShape::shape(&usual, &now)),
        captures: captures.collect::<Result<_>>()?,
        lines: lines(&answer, &measurement.lines),
    };
    Ok((shown, answer.wrong))
}

fn meant(expected: &Expected) -> Result<EmbeddedPicture> {
    let (width, height) = expected.size();
    let pixels = (0..height).flat_map(|line| expected.line(line));
    let pixels: Vec<[u8; 4]> = pixels.map(|[red, green, blue]| [*red, *green, *blue, 255]).collect();
    Ok(EmbeddedPicture::of(&pixels, width as u32)?)
}

/// The lines that are not as meant; those below each other that show the same are one row.
fn lines(answer: &MeasuredLookAnswer, evidence: &[LineEvidence]) -> Vec<CapturedLine> {
    let mut rows: Vec<CapturedLine> = Vec::new();
    for (at, (line, evidence)) in answer.lines.iter().zip(evidence).enumerate() {
        let Some(colour) = colour(evidence.finding) else { continue };
        let (what, pixels) = (line.what(), line.pixels());
        match rows.last_mut().filter(|last| last.to + 1 == at && last.what == what && last.pixels == pixels) {
            Some(last) => {
                last.to = at;
                last.sureness.clear();
            }
            None => rows.push(CapturedLine { from: at, to: at, colour, what, pixels, sureness: line.sureness() }),
        }
    }
    rows
}

fn base_of(path: &Path) -> String {
    path.file_name().map_or_else(|| "capture".to_string(), |name| name.to_string_lossy().into_owned())
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
