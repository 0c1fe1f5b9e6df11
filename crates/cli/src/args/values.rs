//! Values, as they are typed.

use backporch_input::{Milliseconds, Range, number};
use backporch_pc::{CRYSTAL_HZ, Key, KeyPress, Model, MouseMovement, ProcessorClock};
use backporch_workaround::mode_search::RateWanted;

#[derive(Clone, Debug)]
pub enum StartsArg {
    Endless,
    Range(u32, u32),
}

#[cfg(feature = "window")]
pub fn size(text: &str) -> Result<(u32, u32), String> {
    let allowed = || format!("found {text}, allowed WIDTHxHEIGHT, each 320 to 16384");
    let (width, height) = text.split_once('x').ok_or_else(allowed)?;
    let side = |text: &str| text.parse().ok().filter(|side| (320..=16384).contains(side)).ok_or_else(allowed);
    Ok((side(width)?, side(height)?))
}

/// Pixels across and picture lines down.
pub fn pixels(text: &str) -> Result<(u32, u32), String> {
    let allowed = || format!("found {text}, allowed WIDTHxHEIGHT, each 1 to 4096");
    let (width, height) = text.split_once('x').ok_or_else(allowed)?;
    let side = |text: &str| text.trim().parse().ok().filter(|side| (1..=4096).contains(side)).ok_or_else(allowed);
    Ok((side(width)?, side(height)?))
}

/// A frame rate in hertz, or a range of them.
pub fn rate(text: &str) -> Result<RateWanted, String> {
    let hertz = |text: &str| text.trim().parse::<f64>().ok();
    let wanted = match text.split_once("..") {
        None => hertz(text).and_then(RateWanted::about),
        Some((from, to)) => {
            let ends = hertz(from).zip(hertz(to.strip_prefix('=').unwrap_or(to)));
            ends.and_then(|(from, to)| RateWanted::between(&(from..=to)))
        }
    };
    wanted.ok_or_else(|| format!("found {text}, allowed a rate in Hz above 1, or FROM..=TO"))
}

pub fn range(text: &str) -> Result<Range, String> {
    text.trim().parse::<Range>().map_err(|error| error.to_string())
}

pub fn small(text: &str) -> Result<u32, String> {
    let number = value(text)?;
    u32::try_from(number).map_err(|_| format!("found {number}, allowed 0..={}", u32::MAX))
}

pub fn starts(text: &str) -> Result<StartsArg, String> {
    if text.trim() == "endless" {
        return Ok(StartsArg::Endless);
    }
    let allowed = || format!("found {text}, allowed endless, FROM..TO or FROM..=TO");
    let range = text.trim().parse::<Range>().map_err(|_| allowed())?;
    match (range.iter().next(), range.iter().next_back()) {
        (Some(from), Some(to)) if to <= 0xFF_FFFF => Ok(StartsArg::Range(from as u32, to as u32)),
        _ => Err(allowed()),
    }
}

pub fn value(text: &str) -> Result<u64, String> {
    number(text).map_err(|error| error.to_string())
}

pub fn slowness(text: &str) -> Result<f64, String> {
    let slow = text.parse::<f64>().ok().filter(|slow| (0.01..=1000.0).contains(slow));
    slow.ok_or_else(|| format!("found {text}, allowed 0.01 to 1000"))
}

pub fn named(text: &str) -> Result<(&str, &str), String> {
    text.split_once('=').ok_or_else(|| format!("found {text}, allowed REGISTER=…"))
}

pub fn setting(text: &str) -> Result<(String, u64), String> {
    let (name, text) = named(text)?;
    Ok((name.trim().to_string(), value(text.trim())?))
}

pub fn ranging(text: &str) -> Result<(String, Range), String> {
    let (name, text) = named(text)?;
    let range = text.trim().parse::<Range>().map_err(|error| error.to_string())?;
    Ok((name.trim().to_string(), range))
}

pub fn point(text: &str) -> Result<(u32, u32), String> {
    let allowed = || format!("found {text}, allowed X,LINE");
    let (x, line) = text.split_once(',').ok_or_else(allowed)?;
    let part = |text: &str| text.trim().parse::<u32>().map_err(|_| allowed());
    Ok((part(x)?, part(line)?))
}

pub fn model(text: &str) -> Result<Model, String> {
    Model::named(text).ok_or_else(|| format!("found {text}, allowed {}", Model::ALL.map(Model::name).join(", ")))
}

/// A clock in MHz with up to six decimals, exactly.
pub fn clock(text: &str) -> Result<ProcessorClock, String> {
    let allowed = || format!("found {text}, allowed 0.1 to 100, in MHz");
    if text == "4.77" {
        return ProcessorClock::new(CRYSTAL_HZ, 3).ok_or_else(allowed);
    }
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    if part.len() > 6 || part.is_empty() {
        return Err(allowed());
    }
    let digits = |text: &str| text.parse::<u64>().ok().filter(|_| text.bytes().all(|byte| byte.is_ascii_digit()));
    let hertz = digits(whole).zip(digits(&format!("{part:0<6}")));
    let hertz = hertz.and_then(|(whole, part)| whole.checked_mul(1_000_000)?.checked_add(part));
    let hertz = hertz.filter(|hertz| (100_000..=100_000_000).contains(hertz)).ok_or_else(allowed)?;
    ProcessorClock::new(hertz, 1).ok_or_else(allowed)
}

pub fn press(text: &str) -> Result<KeyPress, String> {
    let (times, key) = text.split_once('=').ok_or_else(|| format!("found {text}, allowed MS=KEY or MS..MS=KEY"))?;
    let key = Key::named(key.trim()).map_err(|error| error.to_string())?;
    let Some((from, to)) = times.split_once("..") else { return Ok(KeyPress::short(key, nanoseconds(times)?)) };
    match (nanoseconds(from)?, nanoseconds(to)?) {
        (from, to) if from < to => Ok(KeyPress { key, from, to }),
        _ => Err(format!("found {times} ms, allowed the later time second")),
    }
}

/// A moment in milliseconds, as nanoseconds.
fn nanoseconds(text: &str) -> Result<u64, String> {
    text.trim().parse::<Milliseconds>().map(Milliseconds::nanoseconds).map_err(|error| error.to_string())
}

/// What a hand does with a mouse at a time in nanoseconds: steps to the right and down, and the buttons held from then on.
pub fn movement(text: &str) -> Result<(u64, MouseMovement), String> {
    let allowed = || format!("found {text}, allowed MILLISECONDS=RIGHT,DOWN,BUTTONS");
    let (time, what) = text.split_once('=').ok_or_else(allowed)?;
    let time = nanoseconds(time)?;
    let parts: Vec<&str> = what.split(',').map(str::trim).collect();
    let [right, down, buttons] = parts.as_slice() else { return Err(allowed()) };
    let steps = |text: &str| text.parse::<i16>().map_err(|_| format!("found {text} steps, allowed -32768..=32767"));
    let buttons = buttons.parse::<u8>().ok().filter(|buttons| *buttons < 4);
    let buttons = buttons.ok_or_else(|| format!("found buttons {}, allowed 0..=3 (1 left, 2 right)", parts[2]))?;
    Ok((time, MouseMovement { steps: [steps(right)?, steps(down)?], buttons }))
}

pub fn port(text: &str) -> Result<u16, String> {
    let number = value(text)?;
    u16::try_from(number).map_err(|_| format!("found {number:X}h, allowed 0h..=FFFFh"))
}
