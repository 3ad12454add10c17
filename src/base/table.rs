//! An enum and the table of its variants from one definition.
//!
//! What is known of a variant (its word, its meaning, its weight) is a row of static data. A variant without its row,
//! and a row without one of its columns, do not compile; so no reader of a table needs an answer for a row that is
//! not there.

/// Makes an enum with `ALL`, its variants in the order of the table.
///
/// With a row for each variant, a struct that is defined beside it, there is `info`:
///
/// ```text
/// table! {
///     /// The kinds of events.
///     pub enum EventKind: EventInfo {
///         /// Offset 02h.
///         Parity { code: (0x0C, 2, None), word: "parity error" },
///     }
/// }
/// ```
///
/// Where there is nothing to know but the word, there is `word`:
///
/// ```text
/// table! {
///     /// How likely a cause is.
///     pub enum Likelihood {
///         /// Check this first.
///         Likely = "likely",
///     }
/// }
/// ```
///
/// Further spellings follow a word after `|`; `WORDS` has all of them, to read what people write.
///
/// Variants compare in the order of the table.
macro_rules! table {
    (
        $(#[$about:meta])*
        $visible:vis enum $name:ident: $row:ident {
            $($(#[$meaning:meta])* $variant:ident { $($column:ident: $value:expr),+ $(,)? }),+ $(,)?
        }
    ) => {
        table!(@variants $(#[$about])* $visible enum $name { $($(#[$meaning])* $variant,)+ });

        impl $name {
            /// Its row of the table.
            $visible const fn info(self) -> &'static $row {
                match self {
                    $(Self::$variant => const { &$row { $($column: $value),+ } },)+
                }
            }
        }
    };
    (
        $(#[$about:meta])*
        $visible:vis enum $name:ident {
            $($(#[$meaning:meta])* $variant:ident = $word:literal $(| $spelling:literal)*),+ $(,)?
        }
    ) => {
        table!(@variants $(#[$about])* $visible enum $name { $($(#[$meaning])* $variant,)+ });

        impl $name {
            /// Every word with what it means. The first word of a variant is the one that is written.
            $visible const WORDS: &'static [(Self, &'static str)] =
                &[$((Self::$variant, $word), $((Self::$variant, $spelling),)*)+];

            /// Its word in results.
            $visible const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)+
                }
            }
        }
    };
    (@variants
        $(#[$about:meta])*
        $visible:vis enum $name:ident { $($(#[$meaning:meta])* $variant:ident,)+ }
    ) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        $visible enum $name {
            $($(#[$meaning])* $variant,)+
        }

        impl $name {
            /// All of them, in the order of the table.
            $visible const ALL: &'static [Self] = &[$(Self::$variant),+];
        }
    };
}
