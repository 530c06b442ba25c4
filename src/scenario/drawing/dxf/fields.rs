//! The tags of an entity by their codes.

use super::tags::{Tag, Tags, shown_text};
use crate::drawing::limits::MOST_VALUES;
use crate::drawing::{DrawingError, ErrorKind};
use kurbo::Point;

/// The tags of an entity after its first.
pub(crate) fn body_of<'a>(start: Tag<'a>, tags: &mut Tags<'a>) -> Result<Vec<Tag<'a>>, DrawingError> {
    let mut body = Vec::new();
    while tags.peek()?.code != 0 {
        if body.len() >= MOST_VALUES {
            let what = format!("the {} has more than {} values", shown_text(&start.text()), MOST_VALUES);
            return Err(DrawingError::too_much(Some(start.place), what));
        }
        body.push(tags.next_tag()?);
    }
    Ok(body)
}

/// Tags of an entity.
pub(crate) struct Fields<'t, 'a> {
    pub(crate) start: Tag<'a>,
    pub(crate) body: &'t [Tag<'a>],
}

impl<'a> Fields<'_, 'a> {
    /// The first tag with a code.
    pub(crate) fn find(&self, code: i32) -> Option<Tag<'a>> {
        self.body.iter().find(|tag| tag.code == code).copied()
    }

    /// The number with a code, if it is there.
    pub(crate) fn optional(&self, code: i32) -> Result<Option<f64>, DrawingError> {
        self.find(code).map(|tag| tag.number()).transpose()
    }

    /// The number with a code.
    pub(crate) fn number(&self, code: i32) -> Result<f64, DrawingError> {
        self.optional(code)?.ok_or_else(|| {
            DrawingError::broken(
                self.start.place,
                format!("the {} has no value {code}", shown_text(&self.start.text())),
            )
        })
    }

    /// Its flags.
    pub(crate) fn flags(&self) -> Result<i64, DrawingError> {
        self.find(70).map_or(Ok(0), |tag| tag.whole())
    }

    /// The point whose x has a code.
    pub(crate) fn point(&self, code: i32) -> Result<Point, DrawingError> {
        Ok(Point::new(self.number(code)?, self.number(code + 10)?))
    }

    /// Its radius.
    pub(crate) fn radius(&self) -> Result<f64, DrawingError> {
        let radius = self.number(40)?;
        if radius > 0.0 {
            return Ok(radius);
        }
        Err(DrawingError::broken(self.start.place, format!("a radius of {radius}; it must be positive")))
    }

    /// Whether the entity's plane is seen from behind. A tilted one is refused.
    pub(crate) fn is_mirrored(&self) -> Result<bool, DrawingError> {
        let [x, y, z] = [
            self.optional(210)?.unwrap_or(0.0),
            self.optional(220)?.unwrap_or(0.0),
            self.optional(230)?.unwrap_or(1.0),
        ];
        if x.hypot(y) > 1e-6 * z.abs() {
            let what = format!("the {} is tilted out of the plane of the drawing", shown_text(&self.start.text()));
            return Err(DrawingError::new(ErrorKind::Unsupported, Some(self.start.place), what, "draw it flat"));
        }
        Ok(z < 0.0)
    }
}
