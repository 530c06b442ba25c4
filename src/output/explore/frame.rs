//! Numbers in bulk, as one binary answer.

use serde_json::Value;

/// A head in JSON and arrays of numbers.
///
/// Written as the length of the head in bytes (32 bit, little endian), the head, padded with blanks to a multiple of four bytes, and the
/// arrays one after the other (32 bit floating point, little endian).
#[derive(Debug, Clone, Default)]
pub struct Frame {
    /// What the arrays are.
    pub head: Value,
    /// The arrays.
    pub arrays: Vec<Vec<f32>>,
}

impl Frame {
    /// As bytes.
    pub fn bytes(&self) -> Vec<u8> {
        let mut head = self.head.to_string().into_bytes();
        head.resize(head.len().next_multiple_of(4), b' ');
        let numbers: usize = self.arrays.iter().map(Vec::len).sum();
        let mut bytes = Vec::with_capacity(4 + head.len() + 4 * numbers);
        bytes.extend((head.len() as u32).to_le_bytes());
        bytes.extend(head);
        self.arrays.iter().flatten().for_each(|number| bytes.extend(number.to_le_bytes()));
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_frame_is_head_and_numbers() {
        let frame = Frame { head: json!({ "a": 1 }), arrays: vec![vec![1.5], vec![-2.0]] };
        let bytes = frame.bytes();
        assert_eq!(bytes[..4], [8, 0, 0, 0]);
        assert_eq!(&bytes[4..12], b"{\"a\":1} ");
        assert_eq!(bytes[12..], [1.5f32.to_le_bytes(), (-2.0f32).to_le_bytes()].concat());
    }
}
