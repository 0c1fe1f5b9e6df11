//! What the window remembers from one day to the next: its look and layout.

use std::path::{Path, PathBuf};

use backporch_input::{InputError, Source, Version1, parse, quoted, write_whole};
use serde::{Deserialize, Serialize};

use super::theme::Theme;

/// How the picture fits its panel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PictureFit {
    /// As large as it goes in its true shape on a 4 : 3 tube.
    #[default]
    Shape,
    /// Every pixel the same whole number of the display's, as near to its true shape as that goes.
    Whole,
}

impl PictureFit {
    /// The other one.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::Shape => Self::Whole,
            Self::Whole => Self::Shape,
        }
    }

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Shape => "true shape",
            Self::Whole => "whole pixels",
        }
    }
}

/// The file form of what is remembered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Version of the file form.
    pub version: Version1,
    /// Light text on a dark ground, or the other way round.
    pub dark: bool,
    /// Pictures in whole pixels, or in their true shape.
    pub whole_pixels: bool,
    /// Everything at twice the size.
    pub twice: bool,
    /// Width of the window in points.
    pub width: f32,
    /// Height of the window in points.
    pub height: f32,
    /// Width of the left panel in points.
    pub left: f32,
    /// Width of the right panel in points.
    pub right: f32,
    /// Names of what was opened lately, the newest first.
    #[serde(default)]
    pub recent: Vec<String>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            version: Version1,
            dark: true,
            whole_pixels: false,
            twice: false,
            width: 1280.0,
            height: 800.0,
            left: 262.0,
            right: 372.0,
            recent: Vec::new(),
        }
    }
}

impl Settings {
    /// Where they are saved: in the user's folder for settings.
    #[must_use]
    pub fn path() -> Option<PathBuf> {
        let of_home = || std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".config"));
        let folder = std::env::var_os("XDG_CONFIG_HOME").map(PathBuf::from).or_else(of_home)?;
        Some(folder.join("backporch").join("window.ron"))
    }

    /// Reads them; what cannot be read is as if never saved.
    #[must_use]
    pub fn read(path: &Path) -> Self {
        let read = Source::read(path).and_then(|source| parse::<Self>(&source)).unwrap_or_default();
        let within = |value: f32, from: f32, to: f32| if value.is_finite() { value.clamp(from, to) } else { from };
        Self {
            width: within(read.width, 640.0, 16_384.0),
            height: within(read.height, 400.0, 16_384.0),
            left: within(read.left, 120.0, 900.0),
            right: within(read.right, 120.0, 900.0),
            ..read
        }
    }

    /// Saves them.
    ///
    /// # Errors
    /// Where the file cannot be written.
    pub fn save(&self, path: &Path) -> Result<(), InputError> {
        if let Some(folder) = path.parent() {
            // What is wrong with the folder, writing the file will tell.
            let _ = std::fs::create_dir_all(folder);
        }
        let Self { version: _, dark, whole_pixels, twice, width, height, left, right, recent } = self;
        let recent: Vec<String> = recent.iter().map(|name| quoted(name)).collect();
        let recent = recent.join(", ");
        let text = format!(
            "(\n    version: 1,\n    dark: {dark},\n    whole_pixels: {whole_pixels},\n    twice: {twice},\n    \
             width: {width:.1},\n    height: {height:.1},\n    left: {left:.1},\n    right: {right:.1},\n    \
             recent: [{recent}],\n)\n"
        );
        write_whole(path, text.as_bytes())
    }

    /// Light or dark.
    #[must_use]
    pub fn theme(&self) -> Theme {
        if self.dark { Theme::Dark } else { Theme::Light }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_come_back_and_nonsense_does_no_harm() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("new").join("window.ron");
        assert_eq!(Settings::read(&path), Settings::default());
        let saved = Settings {
            dark: false,
            twice: true,
            left: 300.0,
            recent: vec!["a \"b\"".to_string()],
            ..Settings::default()
        };
        saved.save(&path).unwrap();
        assert_eq!(Settings::read(&path), saved);
        std::fs::write(&path, "(version: 1, dark: maybe)").unwrap();
        assert_eq!(Settings::read(&path), Settings::default());
        std::fs::write(&path, Settings { width: -1.0, ..saved }.text_for_test()).unwrap();
        assert_eq!(Settings::read(&path).width, 640.0);
    }

    impl Settings {
        fn text_for_test(&self) -> String {
            let folder = tempfile::tempdir().unwrap();
            self.save(&folder.path().join("x")).unwrap();
            std::fs::read_to_string(folder.path().join("x")).unwrap()
        }
    }
}
