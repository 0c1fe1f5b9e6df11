//! Bands across the picture: an exposure shorter than a frame, or one that rolls down the sensor, shows part of two frames,
//! each as bright as it was drawn long ago.

/// Lines that are darker than those beside them, with a sharp border on one side at least.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DarkBand {
    /// The first line.
    pub from: usize,
    /// The last line.
    pub to: usize,
    /// By what share it is darker, 0 to 1.
    pub darker: f64,
}

/// Lines to either side of a border that are compared, and those nearest to it that are left out: a border is washed out.
const COMPARED: usize = 14;
const LEFT_OUT: usize = 6;
/// The least share by which a band is darker: light falls off to the edges of a photograph by less in so few lines.
const LEAST: f64 = 0.2;

/// The dark bands of a picture by the light of its lines.
pub(crate) fn bands(brightness: &[f64]) -> Vec<DarkBand> {
    let logs: Vec<f64> = brightness.iter().map(|value| value.max(1e-3).ln()).collect();
    let mean = |from: usize, to: usize| logs[from..to].iter().sum::<f64>() / (to - from).max(1) as f64;
    let reach = COMPARED + LEFT_OUT;
    let step = |at: usize| mean(at + LEFT_OUT, at + reach) - mean(at - reach, at - LEFT_OUT);
    let limit = -(1.0 - LEAST).ln();
    // Borders: the middle of where the step is greatest, for each run of steps the same way.
    let mut runs: Vec<Vec<(usize, f64)>> = Vec::new();
    for at in reach..logs.len().saturating_sub(reach) {
        let height = step(at);
        if height.abs() < limit {
            continue;
        }
        match runs.last_mut().and_then(|run| run.last().copied().map(|last| (run, last))) {
            Some((run, (before, last))) if before + 1 == at && last.signum() == height.signum() => {
                run.push((at, height))
            }
            _ => runs.push(vec![(at, height)]),
        }
    }
    let middle = |run: &Vec<(usize, f64)>| {
        let greatest = run.iter().map(|(_, height)| *height).max_by(|one, other| one.abs().total_cmp(&other.abs()))?;
        let great: Vec<usize> = run.iter().filter(|one| one.1.abs() > 0.9 * greatest.abs()).map(|one| one.0).collect();
        Some((great.iter().sum::<usize>() / great.len().max(1), greatest))
    };
    let borders: Vec<(usize, f64)> = runs.iter().filter_map(middle).collect();
    let mut bands = Vec::new();
    let mut begun = None;
    let darker = |step: f64| 1.0 - (-step.abs()).exp();
    for (number, (at, height)) in borders.iter().copied().enumerate() {
        if height < 0.0 {
            begun = Some((at, height));
        } else if let Some((from, before)) = begun.take() {
            bands.push(DarkBand { from, to: at - 1, darker: darker(before.abs().max(height)) });
        } else if number == 0 {
            bands.push(DarkBand { from: 0, to: at - 1, darker: darker(height) });
        }
    }
    if let Some((from, before)) = begun {
        bands.push(DarkBand { from, to: logs.len() - 1, darker: darker(before) });
    }
    bands
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dark_bands_are_found_and_falling_light_is_none() {
        let lit = |y: usize| 1.0 - 0.2 * (y as f64 / 100.0 - 1.1).powi(2);
        let plain: Vec<f64> = (0..200).map(lit).collect();
        assert_eq!(bands(&plain), []);
        // From line 80 on, and from 60 to 129, the border washed out over some lines.
        let below: Vec<f64> =
            (0..200).map(|y| lit(y) * (1.0 - 0.3 / (1.0 + (-(y as f64 - 80.0) / 2.0).exp()))).collect();
        let found = bands(&below);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].from.abs_diff(80) < 4 && found[0].to == 199, "{found:?}");
        assert!((found[0].darker - 0.3).abs() < 0.06, "{found:?}");
        let middle: Vec<f64> = (0..200).map(|y| lit(y) * if (60..130).contains(&y) { 0.5 } else { 1.0 }).collect();
        let found = bands(&middle);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].from.abs_diff(60) < 3 && found[0].to.abs_diff(129) < 3, "{found:?}");
        let above: Vec<f64> = (0..200).map(|y| if y < 50 { 0.1 } else { 1.0 }).collect();
        assert!(matches!(bands(&above)[..], [DarkBand { from: 0, to: 46..=53, .. }]), "{:?}", bands(&above));
        assert_eq!(bands(&[1.0; 10]), []);
    }
}
