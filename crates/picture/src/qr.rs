//! Machine-readable codes on a picture: QR codes (ISO/IEC 18004), error correction level H.

use qrcode::types::Color;
use qrcode::{EcLevel, QrCode};

/// Modules of the quiet zone around a code (ISO/IEC 18004, 6.3.8).
const QUIET: u32 = 4;
/// Modules across of the largest code that is made, that of version 6.
const MOST_MODULES: u32 = 41;

/// A code with its quiet zone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Qr {
    modules: u32,
    dark: Vec<bool>,
}

impl Qr {
    /// The code of a text; `None` where that is more than a code of version 6 holds at level H: 84 capital letters, digits
    /// and ` $%*+-./:`.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let code = QrCode::with_error_correction_level(text, EcLevel::H).ok()?;
        let modules = u32::try_from(code.width()).ok().filter(|modules| *modules <= MOST_MODULES)?;
        let dark = code.to_colors().into_iter().map(|colour| colour == Color::Dark).collect();
        Some(Self { modules, dark })
    }

    /// Modules across and down, the quiet zone among them.
    #[must_use]
    pub fn side(&self) -> u32 {
        self.modules + 2 * QUIET
    }

    /// Whether a module is dark, counted from the upper left corner of the quiet zone.
    #[must_use]
    pub fn is_dark(&self, column: u32, row: u32) -> bool {
        let inside = |at: u32| at.checked_sub(QUIET).filter(|at| *at < self.modules);
        let (Some(column), Some(row)) = (inside(column), inside(row)) else { return false };
        self.dark[(row * self.modules + column) as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_its_finders_and_its_quiet_zone() {
        // 29 modules, version 3: 35 characters of the alphanumeric mode at level H (ISO/IEC 18004, table 7).
        let code = Qr::new("BP1:LINEAR-256/320X200X256").expect("short enough");
        assert_eq!(code.side(), 29 + 8);
        for (column, row) in [(0, 0), (22, 0), (0, 22)] {
            // A finder: a dark frame of seven, a light one of five, a dark square of three (6.3.3).
            for (x, y) in (0..7).flat_map(|y| (0..7).map(move |x| (x, y))) {
                let ring = u32::min(x, 6 - x).min(y).min(6 - y);
                assert_eq!(code.is_dark(QUIET + column + x, QUIET + row + y), ring != 1, "{x}, {y}");
            }
        }
        assert!((0..37).all(|at| !code.is_dark(at, 3) && !code.is_dark(36 - 3, at) && !code.is_dark(at, 99)));
        assert!(Qr::new(&"A".repeat(84)).is_some() && Qr::new(&"A".repeat(85)).is_none());
    }
}
