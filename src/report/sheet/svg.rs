//! A page as SVG 1.1.

use super::draw::{Page, Seg, Stroke};
use std::fmt::Write;

/// The page as an SVG document.
pub fn write(page: &Page) -> String {
    let mut svg = String::new();
    // Writing to a String never fails.
    let _ = write_to(&mut svg, page);
    svg
}

/// Parts of a millimetre that coordinates count: finer than any printer.
const PARTS: f32 = 100.0;

/// Whole parts keep the file small, and steps from point to point do so too.
fn parts(value: f32) -> i32 {
    (value * PARTS).round() as i32
}

fn write_to(svg: &mut String, page: &Page) -> std::fmt::Result {
    let (w, h) = (parts(page.width), parts(page.height));
    writeln!(svg, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>")?;
    writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{}mm\" \
         height=\"{}mm\" viewBox=\"0 0 {w} {h}\">",
        page.width, page.height
    )?;
    writeln!(svg, "<title>{}</title>", escape(&page.title))?;
    writeln!(svg, "<rect width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>")?;
    for group in &page.groups {
        writeln!(svg, "<g>")?;
        writeln!(svg, "<title>{}</title>", escape(&group.label))?;
        for mark in &group.marks {
            write!(svg, "<path d=\"")?;
            path(svg, &mark.path)?;
            let fill = mark.fill.map_or_else(|| "none".to_owned(), colour);
            write!(svg, "\" fill=\"{fill}\"")?;
            if let Some(Stroke { width, grey, dashed }) = mark.stroke {
                let width = parts(width);
                write!(svg, " stroke=\"{}\" stroke-width=\"{width}\"", colour(grey))?;
                if dashed {
                    write!(svg, " stroke-dasharray=\"70 70\"")?;
                }
            }
            writeln!(svg, "/>")?;
        }
        writeln!(svg, "</g>")?;
    }
    writeln!(svg, "</svg>")
}

fn path(svg: &mut String, path: &[Seg]) -> std::fmt::Result {
    // The current point, and where the part began: it is current after Z.
    let mut at = (0, 0);
    let mut begin = (0, 0);
    for seg in path {
        let to = match *seg {
            Seg::Move(x, y) | Seg::Line(x, y) | Seg::Curve(.., x, y) => (parts(x), parts(y)),
            Seg::Close => begin,
        };
        let (dx, dy) = (to.0 - at.0, to.1 - at.1);
        match *seg {
            Seg::Move(..) => {
                write!(svg, "m{dx} {dy}")?;
                begin = to;
            }
            Seg::Line(..) => write!(svg, "l{dx} {dy}")?,
            Seg::Curve(a, b, c, d, _, _) => write!(
                svg,
                "c{} {} {} {} {dx} {dy}",
                parts(a) - at.0,
                parts(b) - at.1,
                parts(c) - at.0,
                parts(d) - at.1
            )?,
            Seg::Close => write!(svg, "z")?,
        }
        at = to;
    }
    Ok(())
}

fn colour(grey: f32) -> String {
    let level = (grey.clamp(0.0, 1.0) * 255.0).round() as u8;
    format!("#{level:02x}{level:02x}{level:02x}")
}

fn escape(text: &str) -> String {
    let mut escaped = String::new();
    for c in text.chars().filter(|c| !c.is_control()) {
        match c {
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '&' => escaped.push_str("&amp;"),
            c => escaped.push(c),
        }
    }
    escaped
}
