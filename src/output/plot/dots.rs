//! Dots with words beside them, placed so that they touch nothing.

use super::escape::escape;
use std::fmt::Write;

/// A dot.
#[derive(Debug, Clone)]
pub(crate) struct Dot {
    /// Where, in the units of the axes.
    pub(crate) at: [f64; 2],
    /// Whether it is a ring.
    pub(crate) is_ring: bool,
    /// Words beside it; left out where they find no room.
    pub(crate) label: String,
    /// What is told on pointing at it.
    pub(crate) title: String,
}

/// Radius, height of words and their distance, drawing units.
const RADIUS: f64 = 4.5;
const HIGH: f64 = 13.0;
const GAP: f64 = 4.0;
/// Width of a letter.
const LETTER: f64 = 7.1;

/// Left, top, right, bottom, drawing units.
type Room = [f64; 4];

fn touches(a: &Room, b: &Room) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// The first room beside a dot, of four, that lies in the field and touches nothing that is taken.
fn room_for(letters: usize, [x, y]: [f64; 2], field: &Room, taken: &[Room]) -> Option<Room> {
    let (wide, off) = (LETTER * letters as f64, RADIUS + GAP);
    let at = |left: f64, top: f64| [left, top, left + wide, top + HIGH];
    let beside = [
        at(x + off, y - 0.5 * HIGH),
        at(x - off - wide, y - 0.5 * HIGH),
        at(x - 0.5 * wide, y - off - HIGH),
        at(x - 0.5 * wide, y + off),
    ];
    let is_inside =
        |room: &Room| room[0] >= field[0] && room[1] >= field[1] && room[2] <= field[2] && room[3] <= field[3];
    beside.into_iter().find(|room| is_inside(room) && !taken.iter().any(|other| touches(room, other)))
}

/// Draws dots at their places in the drawing; the words of the first are placed first.
pub(super) fn draw(out: &mut String, dots: &[(&Dot, [f64; 2])], colour: usize, field: Room) {
    let mut taken: Vec<Room> =
        dots.iter().map(|(_, [x, y])| [x - RADIUS, y - RADIUS, x + RADIUS, y + RADIUS]).collect();
    for (dot, [x, y]) in dots {
        let class = if dot.is_ring { "point ring" } else { "point" };
        let _ = write!(
            out,
            r#"<circle class="{class} s{colour}" cx="{x:.1}" cy="{y:.1}" r="{RADIUS}"><title>{}</title></circle>"#,
            escape(&dot.title)
        );
        let letters = dot.label.chars().count();
        let Some(room) = room_for(letters, [*x, *y], &field, &taken).filter(|_| letters > 0) else { continue };
        let _ = write!(
            out,
            r#"<text class="tick" x="{:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            0.5 * (room[0] + room[2]),
            room[3] - 2.5,
            escape(&dot.label)
        );
        taken.push(room);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_go_where_there_is_room_and_are_left_out_where_there_is_none() {
        let field = [0.0, 0.0, 100.0, 100.0];
        let right = room_for(2, [50.0, 50.0], &field, &[]).expect("an empty field");
        assert!(right[0] > 50.0);
        let left = room_for(2, [50.0, 50.0], &field, &[right]).expect("room to the left");
        assert!(left[2] < 50.0 && !touches(&left, &right));
        // At the right edge there is none to the right.
        assert!(room_for(2, [98.0, 50.0], &field, &[]).expect("room to the left")[2] < 98.0);
        assert_eq!(room_for(2, [50.0, 50.0], &field, &[field]), None);
        assert_eq!(room_for(40, [50.0, 50.0], &field, &[]), None);
    }
}
