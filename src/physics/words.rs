//! Enums whose values are words of a scenario file.

/// An enum, each value of which is written as a word.
pub trait Words: Copy + PartialEq + 'static {
    /// Its values, in the order in which messages list them.
    const ALL: &'static [Self];
    /// Their words, in the same order.
    const WORDS: &'static [&'static str];
}

/// Makes an enum with the word of each value beside it: `Value = "word"`.
#[macro_export]
macro_rules! words {
    ($(#[$doc:meta])* $vis:vis enum $Name:ident { $($(#[$about:meta])* $Value:ident = $word:literal,)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        $vis enum $Name { $($(#[$about])* $Value,)+ }

        #[allow(dead_code)]
        impl $Name {
            /// Every one, in the order in which messages list them.
            $vis const ALL: &'static [Self] = &[$(Self::$Value),+];
            /// Their words, in the same order.
            $vis const WORDS: &'static [&'static str] = &[$($word),+];

            /// How it is written.
            $vis fn word(self) -> &'static str {
                match self { $(Self::$Value => $word,)+ }
            }
        }

        impl $crate::words::Words for $Name {
            const ALL: &'static [Self] = Self::ALL;
            const WORDS: &'static [&'static str] = Self::WORDS;
        }
    };
}

pub use crate::words;
