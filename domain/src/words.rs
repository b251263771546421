//! Closed lists of words: an enum, its words on the wire and in data files, and the way back.

/// Declares enums whose values are known by one word each.
macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident $word:literal,)+ })+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$vdoc])* $variant,)+ }

        impl $name {
            /// All of them, in order.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The word in data files and on the wire.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            /// The value that a word stands for; `None` for any other word.
            pub fn of(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|value| value.word() == word)
            }
        }
    )+};
}
pub(crate) use words;
