//! What a bench's plain board shows, and the memory behind it as pixels.

use anyhow::Result;
use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_measure::{Expected, MemoryImage, Rgb8};
use backporch_raster::{DrawnLine, Frame, Line, LineEffects, Plain, QuietFrame, View};

/// The picture of the plain board under these registers, with the memory it was fetched from.
pub fn expected(bench: &Bench, registers: &Registers) -> Result<Expected> {
    let frame = bench.plain(registers).run_frame();
    let picture = frame.picture(View::Picture);
    let pixels: Vec<Rgb8> = picture.rgba.iter().map(|[red, green, blue, _]| [*red, *green, *blue]).collect();
    let size = (picture.width as usize, picture.height as usize);
    let border = frame.palettes.first().map_or([0; 3], |palette| {
        let [red, green, blue, _] = palette.border;
        [red, green, blue]
    });
    Ok(Expected::new(size, pixels, border, memory(bench, registers, &frame, size))?)
}

/// The memory under these registers as pixels; `None` as below.
pub fn laid_memory(bench: &Bench, registers: &Registers) -> Option<MemoryImage> {
    let frame = bench.plain(registers).run_frame();
    let (width, height) = frame.picture_size();
    memory(bench, registers, &frame, (width as usize, height as usize))
}

/// Memory as pixels, a strip for each bank that lines come from; `None` where lines are panned or shown under several
/// palettes, so that no place of memory looks the same everywhere.
fn memory(bench: &Bench, registers: &Registers, frame: &Frame, (width, height): (usize, usize)) -> Option<MemoryImage> {
    let quiet = QuietFrame::new(bench.adapter(), registers, &Plain);
    let [palette] = frame.palettes.as_slice() else { return None };
    let lines: Vec<Line> = (0..quiet.picture_lines()).map(|line| quiet.line(0, quiet.start(), line)).collect();
    let alike = |line: &Line| line.pan == 0 && line.repeat == 0 && line.bytes > 0 && line.pixels() as usize == width;
    if lines.len() != height || !lines.iter().all(alike) {
        return None;
    }
    let memory = bench.memory(registers);
    let mut banks: Vec<u32> = lines.iter().map(|line| line.bank).collect();
    banks.sort_unstable();
    banks.dedup();
    let mut drawn = DrawnLine::default();
    let strips = banks.iter().map(|bank| {
        let line = lines.iter().find(|line| line.bank == *bank)?;
        let mut strip: Vec<Rgb8> = Vec::new();
        let bytes = line.mask.checked_add(1)?;
        for linear in (0..bytes).step_by(line.bytes as usize) {
            quiet.draw_line(&Plain, &Line { linear, ..*line }, &LineEffects::default(), &memory, &mut drawn);
            let colour = |value: &u8| {
                let [red, green, blue, _] = palette.colours[usize::from(*value)];
                [red, green, blue]
            };
            strip.extend(drawn.values.iter().map(colour));
        }
        // The last line drawn goes round to the beginning again.
        strip.truncate(pixels(line, bytes));
        Some(strip)
    });
    let strips = strips.collect::<Option<Vec<_>>>()?;
    let place = |line: &Line| (banks.partition_point(|bank| *bank < line.bank), pixels(line, line.linear));
    Some(MemoryImage { strips, lines: lines.iter().map(place).collect() })
}

/// Pixels of this many bytes along a line.
fn pixels(line: &Line, bytes: u32) -> usize {
    (u64::from(bytes) * u64::from(line.pixels()) / u64::from(line.bytes)) as usize
}
