//! Sets that are united two by two.

/// Sets that are united two by two; the root of a set is its lowest number.
///
/// Source: Galler & Fischer 1964, An improved equivalence algorithm, Commun. ACM 7:301; paths are halved on the way (van Leeuwen & van der
/// Weide 1977, memory).
#[derive(Debug, Default)]
pub(super) struct Sets(Vec<u32>);

impl Sets {
    /// So many sets of one each.
    pub(super) fn separate(&mut self, count: usize) {
        self.0.clear();
        self.0.extend(0..count as u32);
    }

    #[inline]
    pub(super) fn find(&mut self, mut node: u32) -> u32 {
        loop {
            let above = self.0[node as usize];
            if above == node {
                return node;
            }
            let next = self.0[above as usize];
            self.0[node as usize] = next;
            node = next;
        }
    }

    #[inline]
    pub(super) fn unite(&mut self, a: u32, b: u32) {
        let (a, b) = (self.find(a), self.find(b));
        self.0[a.max(b) as usize] = a.min(b);
    }

    pub(super) fn same(&mut self, a: u32, b: u32) -> bool {
        self.find(a) == self.find(b)
    }
}
