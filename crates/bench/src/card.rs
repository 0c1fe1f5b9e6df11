//! A bench with the numbered test card in video memory, as a test session lays it.

use std::sync::Arc;

use backporch_adapter::{Adapter, Mode, Registers, Serialise};
use backporch_picture::card::{CardCode, LABEL, LABEL_CHARACTERS, card, card_character};
use backporch_picture::lay::bits_per_pixel;
use backporch_picture::qr::Qr;
use backporch_raster::{Plain, QuietFrame};

use crate::art::Art;
use crate::bench::Bench;
use crate::file::Scroll;

/// Light grey on black (common practice).
const ATTRIBUTE: u8 = 0x07;

impl Bench {
    /// The same bench, without faults, with the test card in the mode's own colours in place of its picture: laid from
    /// the bench's start address, the DAC as firmware sets it.
    #[must_use]
    pub fn with_test_card(&self) -> Self {
        let adapter = Arc::clone(&self.adapter);
        let mut registers = self.registers.clone();
        colours_of_firmware(&self.mode, &mut registers);
        let quiet = QuietFrame::new(&adapter, &registers, &Plain);
        let mut base_memory = adapter.memory_at_start(&registers);
        let art = match bits_per_pixel(&quiet) {
            Ok(bits) => art(&adapter, &registers, &quiet, bits, &self.card_text()),
            Err(_) => {
                lay_text(&quiet, &mut base_memory);
                None
            }
        };
        Self {
            name: format!("{}, test card", self.name),
            layers: self.layers.with_faults(Vec::new()),
            registers,
            art,
            base_memory,
            overlays: Vec::new(),
            is_test_card: true,
            ..self.clone()
        }
    }

    /// Pixels and lines at the upper left of the test card that the label of a session covers.
    #[must_use]
    pub fn card_label(&self) -> (u32, u32) {
        let quiet = QuietFrame::new(&self.adapter, &self.registers, &Plain);
        if !quiet.format().serialise.is_text() {
            return LABEL;
        }
        let first = quiet.line(0, quiet.start(), 0);
        let lines = (0..quiet.picture_lines()).take_while(|line| quiet.line(0, quiet.start(), *line).row == first.row);
        (LABEL_CHARACTERS * first.char_pixels, lines.count() as u32)
    }

    /// What the codes of the test card say: a version, the board, the mode, and registers that differ from its start-up
    /// values but for the start address. Capital letters, digits, `-`, `.`, `:`, `/`, `+` and `*` only, so that codes stay
    /// small; where it would be too long, a checksum stands for the registers.
    #[must_use]
    pub fn card_text(&self) -> String {
        let word = |text: &str| -> String {
            let known = |letter: char| if letter.is_ascii_alphanumeric() { letter } else { '-' };
            text.chars()
                .map(|letter| if letter == '_' { '.' } else { known(letter) })
                .collect::<String>()
                .to_uppercase()
        };
        let start_up = self.adapter.start_up(&self.mode);
        let differs = |field| self.adapter.get(&self.registers, field) != self.adapter.get(&start_up, field);
        let start = self.adapter.start_address();
        let fields = self.adapter.fields().filter(|(field, _)| *field != start && differs(*field));
        let set: Vec<String> = fields
            .map(|(field, info)| format!("{}:{}", word(&info.name), self.adapter.get(&self.registers, field)))
            .collect();
        let checked = |text: &str| format!("*{:08X}", crc32fast::hash(text.as_bytes()));
        let card = format!("{}/{}", word(self.adapter.name()), word(&self.mode.name));
        let card = if card.len() > LONGEST_NAMES { checked(&card) } else { card };
        let set = set.join("+");
        let set = if CARD_VERSION.len() + card.len() + 1 + set.len() > LONGEST_TEXT { checked(&set) } else { set };
        if set.is_empty() { format!("{CARD_VERSION}{card}") } else { format!("{CARD_VERSION}{card}/{set}") }
    }
}

/// What the codes of every test card begin with.
pub const CARD_VERSION: &str = "BP1:";
/// Characters of the board's and the mode's names, and of all of it, at most.
const LONGEST_NAMES: usize = 60;
const LONGEST_TEXT: usize = 84;

fn colours_of_firmware(mode: &Mode, registers: &mut Registers) {
    let dac = mode.firmware.as_ref().and_then(|firmware| firmware.dac).unwrap_or(mode.dac);
    dac.entries().for_each(|(index, levels)| registers.set_dac(index, levels));
}

fn art(adapter: &Adapter, registers: &Registers, quiet: &QuietFrame, bits: u32, text: &str) -> Option<Art> {
    let line = quiet.line(0, quiet.start(), 0);
    let colours = adapter.palette(registers).colours;
    let palette = (0..1usize << bits).map(|value| colours.get(value).map_or([0; 3], |&[r, g, b, _]| [r, g, b]));
    let width = line.pitch.max(line.bytes) * 8 / bits.max(1);
    // Pixels of two bits by way of the planes have the upper two from planes that their mode leaves alone.
    let inks = if quiet.format().serialise == Serialise::Interleaved { 2 } else { bits };
    let lines = quiet.picture_lines();
    let shown = (line.bytes * 8 / bits.max(1), lines);
    let code = Qr::new(text).map(|code| CardCode { code, shown });
    let picture = card(width, lines, inks, palette.collect(), code.as_ref()).ok()?;
    Some(Art { picture, at: quiet.start(), column: 0, scroll: Scroll::Still })
}

/// Characters and attributes, row by row as the mode fetches them.
fn lay_text(quiet: &QuietFrame, memory: &mut [u8]) {
    for index in 0..quiet.picture_lines() {
        let line = quiet.line(0, quiet.start(), index);
        if line.row_address != 0 {
            continue;
        }
        let bytes = line.char_bytes.max(2);
        for column in 0..line.pitch.max(line.bytes) / bytes {
            let pair = [card_character(column, line.row), ATTRIBUTE];
            for (offset, byte) in (column * bytes..).zip(pair) {
                let address = line.memory(line.plain_address(offset)) as usize;
                if let Some(place) = memory.get_mut(address) {
                    *place = byte;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Overrides;
    use backporch_adapter::ADAPTERS;
    use backporch_raster::View;

    /// In every mode of every board the plain board shows the card, and no two of its rows alike.
    #[test]
    fn every_mode_shows_the_card() {
        for name in ADAPTERS.names() {
            let adapter = Adapter::built_in(name).unwrap();
            for mode in &adapter.profile().modes {
                let overrides =
                    Overrides { board: Some(name.into()), mode: Some(mode.name.clone()), ..Overrides::default() };
                // A bench without a picture: text modes have none.
                let text = format!("(version: 1, adapter: \"{name}\")");
                let source = backporch_input::Source::built_in("any", text);
                let bench = Bench::from_source(&source, "any", &crate::Library::default(), &overrides).unwrap();
                let bench = bench.with_test_card();
                let shown = bench.plain(bench.registers()).run_frame().picture(View::Picture);
                let step = if bench.picture().is_some() { 1 } else { shown.height as usize / 25 };
                let rows = shown.height as usize / step;
                let differ = |at: usize| shown.row(at * step) != shown.row((at - 1) * step);
                assert!((1..rows).all(differ), "{name} {}", mode.name);
            }
        }
    }
}
