//! Numbered series: `look-%d.png` stands for every file that is numbered so.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use backporch_input::InputError;

/// Most files of a series.
const MOST_FILES: usize = 64;

/// The captures with every series in its place; a name that is a file is itself.
pub fn with_series(captures: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut all = Vec::new();
    for path in captures {
        match path.file_name().and_then(|name| Pattern::of(&name.to_string_lossy())) {
            Some(pattern) if !path.exists() => all.extend(pattern.files(path)?),
            _ => all.push(path.clone()),
        }
    }
    Ok(all)
}

/// A name with a number in it.
#[derive(Debug, PartialEq, Eq)]
struct Pattern {
    before: String,
    /// Digits, where all have as many.
    digits: Option<usize>,
    after: String,
}

impl Pattern {
    /// `%d` is a number, `%04d` one of four digits.
    fn of(name: &str) -> Option<Self> {
        let (before, rest) = name.split_once('%')?;
        let (width, after) = rest.split_once('d')?;
        let digits = match width {
            "" => None,
            width => Some(width.strip_prefix('0')?.parse().ok().filter(|digits| (1..=9).contains(digits))?),
        };
        Some(Self { before: before.to_string(), digits, after: after.to_string() })
    }

    fn number(&self, name: &str) -> Option<u64> {
        let number = name.strip_prefix(&self.before)?.strip_suffix(&self.after)?;
        let fits = self.digits.is_none_or(|digits| number.len() == digits);
        // A sign is none of a number's digits.
        (fits && number.bytes().all(|byte| byte.is_ascii_digit())).then(|| number.parse().ok()).flatten()
    }

    /// Its files, by their numbers.
    fn files(&self, path: &Path) -> Result<Vec<PathBuf>> {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let mut files = Vec::new();
        for entry in fs::read_dir(folder).with_context(|| folder.display().to_string())? {
            let entry = entry.with_context(|| folder.display().to_string())?;
            let name = entry.file_name();
            if let Some(number) = self.number(&name.to_string_lossy()) {
                files.push((number, path.with_file_name(&name)));
            }
        }
        files.sort();
        if files.is_empty() || files.len() > MOST_FILES {
            let allowed = format!("1 to {MOST_FILES}, numbered where it has %d");
            return Err(InputError::new(path.display().to_string(), format!("{} files", files.len()), allowed).into());
        }
        Ok(files.into_iter().map(|(_, file)| file).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_numbered_where_the_pattern_says() {
        let plain = Pattern::of("look-%d.png").expect("a pattern");
        assert_eq!(plain.number("look-7.png"), Some(7));
        assert_eq!(plain.number("look-012.png"), Some(12));
        for name in ["look-.png", "look-+7.png", "look-7.jpg", "a-look-7.png"] {
            assert_eq!(plain.number(name), None, "{name}");
        }
        let wide = Pattern::of("%03d.jpg").expect("a pattern");
        assert_eq!((wide.number("012.jpg"), wide.number("12.jpg")), (Some(12), None));
        for name in ["look.png", "100%.png", "look-%s.png", "look-%4d.png", "look-%00d.png"] {
            assert_eq!(Pattern::of(name), None, "{name}");
        }
    }
}
