//! Enumerations whose variants have words.

/// An enumeration and the table of its words from one definition, so that no variant can be without a word.
///
/// After a variant's word, further spellings can follow; the function gives the first one, the table has all.
macro_rules! worded {
    (
        $(#[$meta:meta])*
        pub enum $name:ident {
            $($(#[$variant_meta:meta])* $variant:ident = $word:literal $(| $spelling:literal)*,)+
        }
        $(#[$table_meta:meta])*
        $table_visibility:vis const $table:ident;
        $(#[$word_meta:meta])*
        pub fn $function:ident;
    ) => {
        $(#[$meta])*
        pub enum $name {
            $($(#[$variant_meta])* $variant,)+
        }

        $(#[$table_meta])*
        $table_visibility const $table: &[($name, &str)] =
            &[$(($name::$variant, $word), $(($name::$variant, $spelling),)*)+];

        impl $name {
            $(#[$word_meta])*
            pub fn $function(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)+
                }
            }
        }
    };
}

pub(crate) use worded;
