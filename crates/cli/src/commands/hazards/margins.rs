//! The routine at many start phases and at several speeds, and the moment that holds at all of them.

use anyhow::Result;
use backporch_answer::{AdviceAnswer, HazardsAnswer, MarginsAnswer};
use backporch_bench::{Bench, Overrides};
use backporch_drive::{Driver, Keep, Start, layout};
use backporch_hazards::{FrameJudge, MarginSweep, Margins, PhaseSpread, Trial, frame_dots};
use backporch_input::InputError;
use backporch_script::{DotTime, NORMAL_SPEED};

use super::{HazardsArgs, adapter_of};
use crate::output::Output;
use crate::{files, progress};

/// Fills margins and advice in.
pub fn fill(
    args: &HazardsArgs,
    bench: &Bench,
    driver: &Driver,
    answer: &mut HazardsAnswer,
    output: &mut Output,
) -> Result<()> {
    let mut sweep = sweep(args)?;
    // A trace's times are fixed: it has no speed, but can be moved against the beam as a whole.
    if matches!(driver, Driver::Trace(_)) {
        sweep = MarginSweep { speeds: vec![NORMAL_SPEED], spread: PhaseSpread::Even, ..sweep };
    }
    let cards = cards(args, bench)?;
    let margins = margins((bench, driver), &cards, &sweep, output)?;
    let strikes = margins.kinds.iter().any(|margin| margin.kind.is_of_timing());
    let clock = DotTime::new(bench.dot_clock());
    answer.margins = Some(MarginsAnswer {
        cards: cards
            .iter()
            .filter(|_| sweep.spread == PhaseSpread::ByChance)
            .map(|(bench, _)| bench.adapter().name().to_string())
            .collect(),
        ..MarginsAnswer::new(clock, &sweep, &margins)
    });
    let Driver::Script(script) = driver else { return Ok(()) };
    if !strikes || args.no_advice {
        return Ok(());
    }
    let trial = Trial {
        board: bench.faulty(bench.registers()),
        program: script.program.clone(),
        model: script.model.clone(),
        picture: script.picture.clone(),
        monitor: bench.monitor().cloned(),
        layout: layout(bench),
        seed: bench.seed(),
    };
    let bar = progress::bar(output, "looking for a moment that holds", 0);
    let advice = trial.advice(&sweep, &|| bar.inc(1))?;
    bar.finish_and_clear();
    if let (Some(advice), Some(path)) = (&advice, &args.advised) {
        let pretty = ron::ser::to_string_pretty(&advice.routine, ron::ser::PrettyConfig::default())?;
        files::write(output, path, (pretty + "\n").as_bytes())?;
        answer.files.push(path.display().to_string());
    }
    answer.advice = Some(AdviceAnswer::new(clock, &sweep, advice.as_ref()));
    Ok(())
}

fn sweep(args: &HazardsArgs) -> Result<MarginSweep> {
    let speeds: Vec<u32> = args.speeds.iter().take(101).map(|percent| percent.min(100_000) as u32 * 10).collect();
    let (least, most) = (100, 10_000);
    if speeds.is_empty() || speeds.len() > 100 || speeds.iter().any(|speed| !(least..=most).contains(speed)) {
        return Err(InputError::new("--speeds", args.speeds, "1 to 100 speeds of 10 to 1000 hundredths").into());
    }
    Ok(MarginSweep {
        phases: args.phases,
        speeds,
        frames: args.settling + args.frames_each,
        settling: args.settling,
        spread: PhaseSpread::ByChance,
    })
}

/// The bench on the other cards of its class, which keep the processor for longer or shorter.
fn cards(args: &HazardsArgs, bench: &Bench) -> Result<Vec<(Bench, Driver)>> {
    let mut cards = Vec::new();
    for card in bench.adapter().other_cards() {
        let overrides = Overrides {
            board: Some(card.name().to_string()),
            mode: Some(bench.mode().name.clone()),
            ..args.bench.overrides()
        };
        let bench = Bench::open(&args.bench.bench, &overrides)?;
        if let Some(driver) = Driver::of(&bench)? {
            cards.push((bench, driver));
        }
    }
    Ok(cards)
}

/// Every run of the sweep, on the bench's own card and on others by turns.
fn margins(own: (&Bench, &Driver), cards: &[(Bench, Driver)], sweep: &MarginSweep, output: &Output) -> Result<Margins> {
    let (bench, _) = own;
    let all: Vec<(&Bench, &Driver)> =
        [own].into_iter().chain(cards.iter().map(|(bench, driver)| (bench, driver))).collect();
    let bar = progress::bar(output, "trying phases and speeds", u64::from(sweep.phases) * sweep.speeds.len() as u64);
    let judge = |dot: u64, speed| -> Result<_, InputError> {
        // What a trace holds is done on the bench's own card, whenever it is done.
        let turn = if sweep.spread == PhaseSpread::Even { 0 } else { dot % all.len() as u64 };
        let (bench, driver) = all[turn as usize];
        let mut judge = FrameJudge::new(adapter_of(bench), driver.surroundings(bench, speed));
        let run = (Start { dot: Some(dot), speed }, sweep.frames, Keep::default());
        let watch = driver.watch(bench, bench.faulty(bench.registers()), run, &mut |record| judge.see(record))?;
        Ok(judge.finish(watch.waiting))
    };
    let dots = frame_dots(bench.adapter(), bench.registers());
    let margins = sweep.margins((dots, bench.seed()), &judge, &|| bar.inc(1))?;
    bar.finish_and_clear();
    Ok(margins)
}
