//! Why a machine of a fleet was not audited.

use std::io;

use thiserror::Error;

use crate::base::advice;
use crate::yaml::FileError;

/// Why a machine was not audited, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum HostError {
    /// The system does not give the input.
    #[error("cannot be read ({reason}). {}", advice::on_reading(*.kind))]
    Read {
        /// What failed.
        kind: io::ErrorKind,
        /// The same in the system's words.
        reason: String,
    },
    /// A folder cannot be walked.
    #[error("{0}")]
    Folder(String),
    /// More bytes than a listing may have.
    #[error(
        "found more than {} MiB, expected a listing of a few hundred kilobytes. Check the file",
        *.limit >> 20
    )]
    TooLarge {
        /// The most bytes that are taken.
        limit: u64,
    },
    /// Neither a file nor a folder.
    #[error("is not a file. {advice}")]
    NotAFile {
        /// What to do.
        advice: &'static str,
    },
    /// A link to a folder that holds it.
    #[error("is a link to {above}, which contains it. Remove the link")]
    LinkLoop {
        /// The folder.
        above: String,
    },
    /// An archive that was cut off.
    #[error("ends without its end marker; entries may be missing. Copy the archive again")]
    CutArchive,
    /// An entry of an archive that has no content there.
    #[error("is a link or has holes, and its content is not in the archive here. Pack the file itself")]
    NotInArchive,
    /// An archive among the files of a folder.
    #[error("found an archive inside a folder. Name it on the command line to have it read")]
    ArchiveInFolder,
    /// A line of JSON Lines that is not one of ours.
    #[error("found {0}, expected `{{\"host\": …, \"listing\": …}}`. Correct what writes the line")]
    JsonLine(String),
    /// It is not a text listing: why, and what to do, without the input's name.
    #[error("{0}")]
    Evidence(String),
    /// A capture that was not taken as root.
    #[error("found a capture without the SMBIOS table, expected one with it. Take it again as root")]
    CaptureWithoutTable,
    /// Nothing but spaces.
    #[error("found nothing in it, expected a listing. Take it again as root")]
    Empty,
    /// It is planned, and no listing of it came.
    #[error(
        "found no listing of this planned host, expected one. Take it, or say --subset if only some hosts are meant"
    )]
    NoListing,
    /// Text without a record.
    #[error("found no SMBIOS record, expected a listing. Take it again as root, or remove the file")]
    NoRecord,
    /// No plan, or more than one.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// Its board or its plan does not fit it.
    #[error(transparent)]
    Case(#[from] FileError),
    /// A listing on which this program fails.
    #[error("found no result, expected one: this is a defect of asfitted. Report it with the listing")]
    Defect,
}

impl From<io::Error> for HostError {
    fn from(error: io::Error) -> Self {
        Self::Read { kind: error.kind(), reason: error.to_string() }
    }
}

/// Why there is no one plan for a machine, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum PlanError {
    /// The manifest names a plan by a name that several have.
    #[error(
        "found several plans of the name `{file}`, which the manifest gives to `{host}`, expected one. Give its path"
    )]
    SeveralOfName {
        /// The name.
        file: String,
        /// The host.
        host: String,
    },
    /// The manifest names a plan that is not there.
    #[error("found no plan `{file}`, which the manifest gives to `{host}`. Check its name")]
    NoneOfName {
        /// The name.
        file: String,
        /// The host.
        host: String,
    },
    /// Its own plan cannot be read.
    #[error("found the plan {file} for this machine, which cannot be read. Correct it")]
    Unreadable {
        /// The plan's file.
        file: String,
    },
    /// No plan fits.
    #[error(
        "found no plan for this machine, expected one whose `machine` fits. Write one, or name it in the manifest"
    )]
    NoneFits,
    /// Several plans fit.
    #[error(
        "found {count} plans for this machine, {first} and {second}{}, expected one. Make their `machine` differ, or name one in the manifest",
        if *.count > 2 { " among them" } else { "" }
    )]
    SeveralFit {
        /// How many.
        count: usize,
        /// The first one's file.
        first: String,
        /// The second one's file.
        second: String,
    },
}
