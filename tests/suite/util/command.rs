//! Running the command and reading what it says.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use assert_cmd::assert::Assert;
use serde_json::Value;

/// The command, whatever the terminal of the tests wants.
pub fn asfitted() -> Command {
    let mut command = Command::cargo_bin("asfitted").unwrap();
    for name in ["CLICOLOR_FORCE", "NO_COLOR", "COLUMNS"] {
        command.env_remove(name);
    }
    command
}

/// A folder with the demo's files.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        asfitted().args(["demo", "--files"]).arg(folder.path()).assert().code(0);
        Self { folder }
    }

    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    /// The command, run in this folder.
    pub fn asfitted(&self) -> Command {
        let mut command = asfitted();
        command.current_dir(self.folder());
        command
    }
}

pub fn audit(listing: &Path, plan: &Path) -> Assert {
    asfitted().arg("audit").arg(listing).arg("--plan").arg(plan).assert()
}

/// The result of an audit that ends with `code`.
pub fn audit_json(listing: &Path, plan: &Path, code: i32) -> Value {
    let mut command = asfitted();
    command.arg("audit").arg(listing).arg("--plan").arg(plan).args(["--format", "json"]);
    json(&command.assert().code(code))
}

/// The plan that a listing fulfils, as YAML.
pub fn plan_from(listing: &Path) -> String {
    stdout(&asfitted().args(["plan", "from"]).arg(listing).assert().code(0))
}

pub fn stdout(assert: &Assert) -> String {
    String::from_utf8(assert.get_output().stdout.clone()).unwrap()
}

pub fn stderr(assert: &Assert) -> String {
    String::from_utf8(assert.get_output().stderr.clone()).unwrap()
}

pub fn json(assert: &Assert) -> Value {
    serde_json::from_slice(&assert.get_output().stdout).unwrap()
}

/// The lines of JSON Lines.
pub fn json_lines(output: &[u8]) -> Vec<Value> {
    let lines = output.split(|byte| *byte == b'\n').filter(|line| !line.is_empty());
    lines.map(|line| serde_json::from_slice(line).unwrap()).collect()
}
