//! What a bench lays over its picture: other pictures, regions of them, and lines of text.

use backporch_adapter::{Adapter, CharacterSet, Registers};
use backporch_input::{InputError, InputErrorKind, MAX_TEXT_BYTES, Source, read_bytes};
use backporch_picture::lay::bits_per_pixel;
use backporch_picture::overlay::{MOST_LINES, MaskedByte, Overlay, OverlayError, OverlayPosition, row_pixels};
use backporch_picture::quantise::{Dither, to_palette};
use backporch_raster::QuietFrame;
use image::RgbImage;
use image::imageops::crop_imm;

use crate::art;
use crate::file::{OverlayRef, PlaceRef};
use crate::library::Library;

/// Reads overlays and lays them as a frame of a board shows them.
pub(crate) struct OverlayReader<'a> {
    pub source: &'a Source,
    pub library: &'a Library,
    pub adapter: &'a Adapter,
    pub registers: &'a Registers,
    pub quiet: &'a QuietFrame,
    /// Lines of the built-in picture.
    pub lines: u32,
    /// Whether the bench was made for this board: elsewhere a colour that the mode lacks becomes the last it has.
    pub is_own_board: bool,
}

impl OverlayReader<'_> {
    /// The bytes that hold the overlays, in their order.
    ///
    /// # Errors
    /// Names the field, what was found and what is allowed.
    pub fn bytes(&self, overlays: &[OverlayRef]) -> Result<Vec<MaskedByte>, InputError> {
        let mut bytes = Vec::new();
        for (at, overlay) in overlays.iter().enumerate() {
            let at = at.to_string();
            let read = match overlay {
                OverlayRef::Picture { source, from, size, dither, place } => {
                    let image = self.region(&at, source, (*from, *size), *place)?;
                    self.picture(&at, &image, *dither)?
                }
                OverlayRef::Text { text, colour, ground, font, place: _ } => {
                    let font = font.as_ref().map(|font| self.font(&at, font)).transpose()?;
                    self.text(&at, text, (*colour, *ground), font.as_ref())?
                }
            };
            bytes.extend(self.placed(&at, &read, overlay.place())?);
        }
        Ok(bytes)
    }

    /// Colours that a pixel of the mode can have.
    fn colours(&self, at: &str) -> Result<u32, InputError> {
        let bits = bits_per_pixel(self.quiet);
        let bits = bits.map_err(|_| self.source.fault(&["overlays", at], "a text mode", "a graphics mode"))?;
        Ok(1 << bits)
    }

    /// A region of a picture; where its size is left out, all that is there, as far as a row of memory goes.
    fn region(
        &self,
        at: &str,
        source: &str,
        (from, size): ((u32, u32), Option<(u32, u32)>),
        place: PlaceRef,
    ) -> Result<RgbImage, InputError> {
        let path = ["overlays", at, "source"];
        let image = art::load(source, self.library, self.lines).map_err(|error| self.source.at_field(&path, error))?;
        let (width, height) = image.dimensions();
        if from.0 >= width || from.1 >= height {
            let found = format!("({}, {})", from.0, from.1);
            let allowed = format!("a place in a picture of {width} x {height} pixels");
            return Err(self.source.fault(&["overlays", at, "from"], found, allowed));
        }
        let most = (width - from.0, height - from.1);
        let row = row_pixels(self.quiet, position(place)).saturating_sub(place.x).max(1);
        let size = size.unwrap_or((most.0.min(row), most.1));
        if !(1..=most.0).contains(&size.0) || !(1..=most.1).contains(&size.1) {
            let found = format!("({}, {})", size.0, size.1);
            let allowed = format!("(1, 1) to ({}, {})", most.0, most.1);
            return Err(self.source.fault(&["overlays", at, "size"], found, allowed));
        }
        Ok(crop_imm(&image, from.0, from.1, size.0, size.1).to_image())
    }

    /// A picture in the colours that the board has.
    fn picture(&self, at: &str, image: &RgbImage, dither: bool) -> Result<Overlay, InputError> {
        let palette = self.adapter.palette(self.registers);
        let colours = palette.colours.iter().take(self.colours(at)? as usize);
        let colours: Vec<[u8; 3]> = colours.map(|&[red, green, blue, _]| [red, green, blue]).collect();
        let dither = if dither { Dither::Ordered } else { Dither::Off };
        let picture = to_palette(image, &colours, dither).map_err(|error| {
            self.source.fault(&["overlays", at, "source"], error, "a picture of at least 1 x 1 pixels")
        })?;
        Ok(Overlay::of_picture(&picture))
    }

    fn text(
        &self,
        at: &str,
        text: &str,
        (colour, ground): (u8, Option<u8>),
        font: Option<&CharacterSet>,
    ) -> Result<Overlay, InputError> {
        let most = self.colours(at)? - 1;
        let checked = |field: &str, value: u8| {
            if u32::from(value) > most && self.is_own_board {
                return Err(self.source.fault(&["overlays", at, field], value, format!("0..={most}")));
            }
            Ok(u32::from(value).min(most) as u8)
        };
        let colour = checked("colour", colour)?;
        let ground = ground.map(|ground| checked("ground", ground)).transpose()?;
        Overlay::of_text(text, font.unwrap_or_else(|| CharacterSet::built_in()), colour, ground).map_err(|character| {
            let found = format!("the character {character}");
            self.source.fault(&["overlays", at, "text"], found, "characters that the font has")
        })
    }

    fn font(&self, at: &str, name: &str) -> Result<CharacterSet, InputError> {
        let path = self.library.path(name);
        let refused = |error| self.source.at_field(&["overlays", at, "font"], error);
        let bytes = read_bytes(&path, MAX_TEXT_BYTES).map_err(refused)?;
        let form = |found: String| {
            let error = InputError::new(path.display().to_string(), found, "256 glyphs drawn as text");
            refused(error.of_kind(InputErrorKind::Form))
        };
        let text = String::from_utf8(bytes).map_err(|error| form(error.to_string()))?;
        CharacterSet::parse(&text).map_err(|error| form(error.to_string()))
    }

    fn placed(&self, at: &str, overlay: &Overlay, place: PlaceRef) -> Result<Vec<MaskedByte>, InputError> {
        overlay.bytes(self.quiet, position(place)).map_err(|error| {
            let (field, found, allowed) = match error {
                OverlayError::Wide { found, allowed } => {
                    ("x", format!("pixels up to {found}"), format!("up to {allowed}"))
                }
                OverlayError::High { found } => ("y", format!("lines up to {found}"), format!("up to {MOST_LINES}")),
                _ => ("start", error.to_string(), "a graphics mode".to_string()),
            };
            self.source.fault(&["overlays", at, "place", field], found, allowed)
        })
    }
}

fn position(place: PlaceRef) -> OverlayPosition {
    let PlaceRef { start, x, y } = place;
    OverlayPosition { start, x, y }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Bench, Overrides};
    use backporch_raster::Frame;

    fn bench(fields: &str, overrides: &Overrides) -> Result<Bench, InputError> {
        let text = format!("(version: 1, {fields})");
        Bench::from_source(&Source::built_in("a.bench.ron", text), "a.bench.ron", &Library::default(), overrides)
    }

    fn frame(fields: &str, start: u64) -> Frame {
        let bench = bench(fields, &Overrides { start: Some(start), ..Overrides::default() }).unwrap();
        bench.plain(bench.registers()).run_frame()
    }

    /// A status bar under a split: memory from address 0 on is shown below the line compare (VGA register documentation),
    /// the picture lies behind it.
    #[test]
    fn a_status_bar_stands_still_under_a_split() {
        let of = |scroll: &str| {
            format!(
                r#"adapter: "vga", mode: "320x200x16", registers: {{"line_compare": 335}},
                picture: (source: "harbour", at: 1280, scroll: {scroll}),
                overlays: [Text(text: "\u{{2588}}\u{{2588}}", colour: 12, place: (x: 5, y: 3))]"#
            )
        };
        for (scroll, starts) in [("Still", [1280, 1290]), ("Redrawn", [1280, 1281])] {
            for start in starts {
                let frame = frame(&of(scroll), start);
                // Lines are doubled: the split comes after 168 of them.
                for line in 168..200 {
                    let wanted = |x: u32| (5..21).contains(&x) && (171..179).contains(&line);
                    let wrong = (0..40).filter(|x| (frame.value_at(*x, line) == Some(12)) != wanted(*x)).count();
                    assert_eq!(wrong, 0, "{scroll} {start} {line}");
                }
            }
        }
    }

    /// A second page: an overlay shows from its own start address on, and not from another page's.
    #[test]
    fn a_second_page_shows_at_its_start_address() {
        let fields = r#"adapter: "vga", mode: "320x200x256-planar",
            overlays: [Picture(source: "harbour", place: (start: 16000)),
                Picture(source: "harbour", from: (100, 20), size: (30, 10), place: (start: 0, x: 7, y: 50))]"#;
        let (first, second) = (frame(fields, 0), frame(fields, 16000));
        for line in 0..200 {
            for x in 0..320 {
                let inside = (7..37).contains(&x) && (50..60).contains(&line);
                let wanted = if inside { second.value_at(x + 93, line - 30) } else { Some(0) };
                assert_eq!(first.value_at(x, line), wanted, "{x} {line}");
            }
        }
    }

    #[test]
    fn what_cannot_be_laid_is_refused_where_it_stands() {
        let refused = |board: &str, overlay: &str| {
            let fields = format!("adapter: {board}, overlays: [{overlay}]");
            let error = bench(&fields, &Overrides::default()).unwrap_err();
            (error.field().unwrap_or_default().to_string(), error.found().to_string(), error.allowed().to_string())
        };
        let expect = |board: &str, overlay: &str, wanted: [&str; 3]| {
            assert_eq!(refused(board, overlay), (wanted[0].into(), wanted[1].into(), wanted[2].into()), "{overlay}");
        };
        let cga = r#""colour-graphics", mode: "320x200x4""#;
        expect(cga, r#"Text(text: "a", colour: 4)"#, ["overlays.0.colour", "4", "0..=3"]);
        expect(cga, r#"Text(text: "a", colour: 3, ground: 9)"#, ["overlays.0.ground", "9", "0..=3"]);
        let characters = ["overlays.0.text", "the character \u{3042}", "characters that the font has"];
        expect(cga, "Text(text: \"a\u{3042}\", colour: 3)", characters);
        let wide = ["overlays.0.place.x", "pixels up to 321", "up to 320"];
        expect(cga, r#"Text(text: "a", colour: 3, place: (x: 313))"#, wide);
        let high = ["overlays.0.place.y", "lines up to 4097", "up to 4096"];
        expect(cga, r#"Text(text: "a", colour: 3, place: (y: 4089))"#, high);
        let size = ["overlays.0.size", "(0, 3)", "(1, 1) to (68, 200)"];
        expect(cga, r#"Picture(source: "harbour", from: (700, 0), size: (0, 3))"#, size);
        let from = ["overlays.0.from", "(0, 200)", "a place in a picture of 768 x 200 pixels"];
        expect(cga, r#"Picture(source: "harbour", from: (0, 200))"#, from);
        expect(
            r#""colour-graphics", mode: "text-80""#,
            r#"Text(text: "a", colour: 1)"#,
            ["overlays.0", "a text mode", "a graphics mode"],
        );
    }

    /// On a board with fewer colours a text takes the last one there is.
    #[test]
    fn another_board_shows_it_in_the_colours_it_has() {
        let fields = r#"adapter: "vga", mode: "320x200x256", overlays: [Text(text: "\u{2588}", colour: 200)]"#;
        let overrides = Overrides { board: Some("colour-graphics".to_string()), ..Overrides::default() };
        let bench = bench(fields, &overrides).unwrap();
        assert_eq!(bench.plain(bench.registers()).run_frame().value_at(0, 0), Some(3));
    }
}
