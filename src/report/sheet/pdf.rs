//! A page as PDF 1.7.

use super::draw::{Page, Seg, Stroke};
use pdf_writer::types::LineJoinStyle;
use pdf_writer::{Content, Filter, Finish, Pdf, Rect, Ref, TextStr};

/// Points in a millimetre.
const POINTS: f32 = 72.0 / 25.4;

/// The page as a PDF document. The same page gives the same bytes.
pub fn write(page: &Page) -> Vec<u8> {
    let [catalog, pages, leaf, contents, info] = [1, 2, 3, 4, 5].map(Ref::new);
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(pages);
    pdf.pages(pages).kids([leaf]).count(1);
    let mut only = pdf.page(leaf);
    only.media_box(Rect::new(0.0, 0.0, page.width * POINTS, page.height * POINTS));
    only.parent(pages);
    only.contents(contents);
    only.resources();
    only.finish();
    let packed = miniz_oxide::deflate::compress_to_vec_zlib(&content(page), 6);
    pdf.stream(contents, &packed).filter(Filter::FlateDecode);
    pdf.document_info(info).title(TextStr(&page.title));
    pdf.finish()
}

fn content(page: &Page) -> Vec<u8> {
    // PDF counts upward from the lower edge. Two decimals of a point are
    // enough for any printer, and keep the file small.
    let hundredth = |value: f32| (value * 100.0).round() / 100.0;
    let x = |value: f32| hundredth(value * POINTS);
    let y = |value: f32| hundredth((page.height - value) * POINTS);
    let mut content = Content::new();
    content.set_line_join(LineJoinStyle::RoundJoin);
    for mark in page.groups.iter().flat_map(|group| &group.marks) {
        if let Some(grey) = mark.fill {
            content.set_fill_gray(grey);
        }
        if let Some(Stroke { width, grey, dashed }) = mark.stroke {
            content.set_stroke_gray(grey);
            content.set_line_width(hundredth(width * POINTS));
            let dash = if dashed { &[2.0, 2.0][..] } else { &[] };
            content.set_dash_pattern(dash.iter().copied(), 0.0);
        }
        for seg in &mark.path {
            match *seg {
                Seg::Move(to_x, to_y) => content.move_to(x(to_x), y(to_y)),
                Seg::Line(to_x, to_y) => content.line_to(x(to_x), y(to_y)),
                Seg::Curve(x1, y1, x2, y2, to_x, to_y) => {
                    content.cubic_to(x(x1), y(y1), x(x2), y(y2), x(to_x), y(to_y))
                }
                Seg::Close => content.close_path(),
            };
        }
        match (mark.fill.is_some(), mark.stroke.is_some()) {
            (true, true) => content.fill_nonzero_and_stroke(),
            (true, false) => content.fill_nonzero(),
            (false, true) => content.stroke(),
            (false, false) => content.end_path(),
        };
    }
    content.finish().into_vec()
}
