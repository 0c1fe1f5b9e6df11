//! The chart as SVG; a mark tells what it is when pointed at.

use std::fmt::Write as _;

use super::{Colour, Drawing, Shape};

pub(super) fn write(drawing: &Drawing) -> String {
    let Drawing { width, height, number, shapes } = drawing;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width:.0} {height:.0}\" role=\"img\" \
         font-family=\"sans-serif\" font-size=\"12\">\n<title>Beam position in frame {number}</title>\n\
         <desc>The raster of one frame, left to right and top to bottom as the beam draws it, with marks where the \
         routine wrote or its wait ended.</desc>\n<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n"
    );
    for shape in shapes {
        // Writing into a text cannot fail.
        let _ = writeln!(svg, "{}", element(shape));
    }
    svg.push_str("</svg>\n");
    svg
}

fn hex([red, green, blue]: Colour) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

fn titled(element: &str, attributes: &str, title: &str) -> String {
    match title {
        "" => format!("<{element} {attributes} stroke=\"#ffffff\"/>"),
        title => format!("<{element} {attributes} stroke=\"#ffffff\"><title>{title}</title></{element}>"),
    }
}

fn element(shape: &Shape) -> String {
    match shape {
        Shape::Rect { x, y, width, height, fill, edge } => {
            let edge = edge.map_or_else(String::new, |edge| format!(" stroke=\"{}\"", hex(edge)));
            let fill = hex(*fill);
            format!(
                "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{width:.2}\" height=\"{height:.2}\" fill=\"{fill}\"{edge}/>"
            )
        }
        Shape::Polygon { points, fill, title } => {
            let points: Vec<String> = points.iter().map(|(x, y)| format!("{x:.2},{y:.2}")).collect();
            titled("polygon", &format!("points=\"{}\" fill=\"{}\"", points.join(" "), hex(*fill)), title)
        }
        Shape::Circle { x, y, radius, fill, title } => {
            let place = format!("cx=\"{x:.2}\" cy=\"{y:.2}\" r=\"{radius}\" fill=\"{}\"", hex(*fill));
            titled("circle", &place, title)
        }
        Shape::Dashed { from, to, y, colour } => format!(
            "<line x1=\"{from:.2}\" x2=\"{to:.2}\" y1=\"{y:.2}\" y2=\"{y:.2}\" stroke=\"{}\" stroke-dasharray=\"6 3\"/>",
            hex(*colour)
        ),
        Shape::Text { x, y, text, colour, end, clear } => {
            let anchor = if *end { " text-anchor=\"end\"" } else { "" };
            let rim = if *clear { " stroke=\"#ffffff\" stroke-width=\"3\" paint-order=\"stroke\"" } else { "" };
            format!("<text x=\"{x:.2}\" y=\"{y:.2}\"{anchor} fill=\"{}\"{rim}>{text}</text>", hex(*colour))
        }
    }
}
