//! Kinds of modules.

use std::fmt;

table! {
    /// The kind of module: how its address and data lines are driven.
    #[non_exhaustive]
    pub enum ModuleKind {
        /// Unbuffered, without check bits or with check bits unknown.
        Udimm = "UDIMM",
        /// Unbuffered with check bits.
        EccUdimm = "ECC UDIMM" | "ECC-UDIMM" | "EUDIMM",
        /// Registered.
        Rdimm = "RDIMM",
        /// Load-reduced.
        Lrdimm = "LRDIMM",
        /// Fully buffered.
        FbDimm = "FB-DIMM" | "FBDIMM",
        /// Small outline.
        SoDimm = "SO-DIMM" | "SODIMM",
        /// Multiplexed ranks.
        Mrdimm = "MRDIMM",
        /// Keeps its contents without power.
        Nvdimm = "NVDIMM",
    }
}

impl ModuleKind {
    /// Reads a name in any case of letters.
    pub fn parse(text: &str) -> Option<Self> {
        ModuleKind::WORDS
            .iter()
            .find(|(_, name)| name.eq_ignore_ascii_case(text.trim()))
            .map(|(kind, _)| *kind)
    }
}

impl fmt::Display for ModuleKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}
