//! A reliability diagram: what was stated against what came true.

use std::fmt::Write;

use super::trials::report::Calibration;

/// Side of the square, and its distance from the edges of the drawing.
const SIDE: f64 = 360.0;
const MARGIN: f64 = 56.0;

/// The bins as a drawing (SVG): the mean of what was stated to the right, the share that came true upwards, with the standard
/// error of that share; on the diagonal both agree.
pub fn diagram(bins: &[Calibration]) -> String {
    let tenths = |place: f64| (place * 10.0).round() / 10.0;
    let x = |share: f64| tenths(MARGIN + share * SIDE);
    let y = |share: f64| tenths(MARGIN + (1.0 - share) * SIDE);
    let size = SIDE + 2.0 * MARGIN;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {size} {size}\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n"
    );
    let mut draw = |line: String| {
        // Writing to a string cannot fail.
        let _ = writeln!(svg, "{line}");
    };
    for tenth in (0..=10).step_by(2) {
        let (share, percent) = (f64::from(tenth) / 10.0, tenth * 10);
        draw(format!(
            "<path d=\"M{} {}v{SIDE}M{} {}h{SIDE}\" stroke=\"#ddd\"/><text x=\"{}\" y=\"{}\" text-anchor=\"middle\">{percent}</text>\
             <text x=\"{}\" y=\"{}\" text-anchor=\"end\">{percent}</text>",
            x(share),
            y(1.0),
            x(0.0),
            y(share),
            x(share),
            y(0.0) + 18.0,
            x(0.0) - 8.0,
            y(share) + 4.0
        ));
    }
    draw(format!(
        "<path d=\"M{} {}L{} {}\" stroke=\"#888\" stroke-dasharray=\"4 4\"/>",
        x(0.0),
        y(0.0),
        x(1.0),
        y(1.0)
    ));
    for (at, bin) in bins.iter().enumerate() {
        // The last bins lie close together.
        let label = if at % 2 == 0 { -6.0 } else { 16.0 };
        let error = (bin.came_true * (1.0 - bin.came_true) / bin.count as f64).sqrt();
        let (low, high) = ((bin.came_true - error).max(0.0), (bin.came_true + error).min(1.0));
        draw(format!(
            "<path d=\"M{0} {1}V{2}\" stroke=\"#246\" stroke-width=\"2\"/><circle cx=\"{0}\" cy=\"{3}\" r=\"5\" fill=\"#246\"/>\
             <text x=\"{4}\" y=\"{5}\" text-anchor=\"end\">{6}</text>",
            x(bin.stated),
            y(low),
            y(high),
            y(bin.came_true),
            x(bin.stated) - 8.0,
            y(bin.came_true) + label,
            bin.count
        ));
    }
    draw(format!("<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">stated, %</text>", x(0.5), y(0.0) + 40.0));
    draw(format!(
        "<text transform=\"translate({} {}) rotate(-90)\" text-anchor=\"middle\">came true, %</text></svg>",
        x(0.0) - 40.0,
        y(0.5)
    ));
    svg
}
