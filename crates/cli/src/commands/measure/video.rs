//! Frames of a video, by way of `ffmpeg` where that is installed.

use std::io::{ErrorKind, Read};
use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result};
use backporch_input::InputError;
use backporch_measure::{Capture, MOST_FRAMES};

/// Endings of videos.
const ENDINGS: [&str; 10] = ["mp4", "m4v", "mov", "mkv", "webm", "avi", "mpg", "mpeg", "ts", "ogv"];
/// Frames taken a second.
const A_SECOND: u32 = 2;
/// Bytes of all frames that are read.
const MOST_BYTES: u64 = 1 << 30;
/// What a PNG begins with (ISO/IEC 15948, 5.2).
const SIGNATURE: [u8; 8] = *b"\x89PNG\r\n\x1a\n";

pub fn is_video(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}

/// The first frames of a video, two of each second.
pub fn frames(path: &Path) -> Result<Vec<Capture>> {
    let name = path.display().to_string();
    if !path.is_file() {
        return Err(InputError::new(name, "no such file", "a video").into());
    }
    // The whole path, so that no name is taken for an option or a protocol.
    let whole = std::path::absolute(path).with_context(|| name.clone())?;
    let mut command = Command::new("ffmpeg");
    command.args(["-v", "error", "-nostdin", "-threads", "1", "-protocol_whitelist", "file", "-i"]).arg(whole);
    command.args(["-an", "-sn", "-dn", "-vf", &format!("fps={A_SECOND}")]);
    command.args(["-frames:v", &MOST_FRAMES.to_string(), "-f", "image2pipe", "-c:v", "png", "pipe:1"]);
    let started = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    let mut child = match started {
        Err(error) if error.kind() == ErrorKind::NotFound => {
            let allowed = "pictures: PNG, JPEG, WebP, BMP or GIF; videos need ffmpeg, which is not installed here";
            return Err(InputError::new(name, "a video", allowed).into());
        }
        started => started.context("ffmpeg")?,
    };
    let mut bytes = Vec::new();
    let (stdout, stderr) = (child.stdout.take(), child.stderr.take());
    // Both ends are emptied, so that neither holds the other up.
    let said = std::thread::spawn(move || {
        let mut said = String::new();
        let _ = stderr.map(|stderr| stderr.take(1 << 16).read_to_string(&mut said));
        said
    });
    if let Some(stdout) = stdout {
        stdout.take(MOST_BYTES + 1).read_to_end(&mut bytes).context("ffmpeg")?;
    }
    let done = if bytes.len() as u64 > MOST_BYTES {
        child.kill().context("ffmpeg")?;
        child.wait().context("ffmpeg")?;
        return Err(InputError::new(name, "frames too large", format!("{MOST_BYTES} bytes of them")).into());
    } else {
        child.wait().context("ffmpeg")?
    };
    let said = said.join().unwrap_or_default();
    let pictures = pictures(&bytes);
    if !done.success() && pictures.is_empty() {
        let why = said.lines().next().unwrap_or("a file without a picture").to_string();
        return Err(InputError::new(name, why, "a video that ffmpeg reads").into());
    }
    let captures = pictures.into_iter().map(|picture| {
        Capture::read(picture).map_err(|error| InputError::new(name.clone(), error, "a video of the screen").into())
    });
    Ok(captures.collect::<Result<Vec<_>>>()?.into_iter().flatten().collect())
}

/// Pictures that stand one behind the other; what is cut off at the end is left out.
fn pictures(mut bytes: &[u8]) -> Vec<&[u8]> {
    let mut pictures = Vec::new();
    while let Some(length) = length(bytes) {
        let (picture, rest) = bytes.split_at(length);
        pictures.push(picture);
        bytes = rest;
    }
    pictures
}

/// Bytes of the picture at the beginning, to the end of its last chunk.
fn length(bytes: &[u8]) -> Option<usize> {
    bytes.starts_with(&SIGNATURE).then_some(())?;
    let mut at = SIGNATURE.len();
    loop {
        let length = u32::from_be_bytes(bytes.get(at..at + 4)?.try_into().ok()?) as usize;
        let last = bytes.get(at + 4..at + 8)? == b"IEND";
        at = at.checked_add(length)?.checked_add(12)?;
        if last {
            return (at <= bytes.len()).then_some(at);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use image::{ImageFormat, RgbImage};

    use super::*;

    #[test]
    fn pictures_behind_each_other_are_parted() {
        let png = |side: u32| {
            let mut bytes = Cursor::new(Vec::new());
            RgbImage::new(side, side).write_to(&mut bytes, ImageFormat::Png).expect("written");
            bytes.into_inner()
        };
        let (one, other) = (png(3), png(70));
        let both = [one.clone(), other.clone()].concat();
        assert_eq!(pictures(&both), [one.as_slice(), other.as_slice()]);
        assert_eq!(pictures(&both[..both.len() - 1]), [one.as_slice()], "the last one is cut off");
        assert!(pictures(b"nothing").is_empty());
        let endless = [&SIGNATURE[..], &[0xFF; 12]].concat();
        assert!(pictures(&endless).is_empty());
    }
}
