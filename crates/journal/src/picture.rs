//! Pictures: files named by the hash of their bytes.

use std::fmt;
use std::fs::{self, File};
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::{JournalError, Refusal};
use crate::hash::Hash;

/// The name of a picture: the BLAKE3 hash of its bytes, shown as 64 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct PictureId(Hash);

impl PictureId {
    /// The name that these bytes have.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Hash::of(bytes))
    }

    /// The hash itself.
    pub fn hash(&self) -> Hash {
        self.0
    }

    pub(crate) fn from_hash(hash: Hash) -> Self {
        Self(hash)
    }
}

impl fmt::Display for PictureId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl fmt::Debug for PictureId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

impl FromStr for PictureId {
    type Err = Refusal;

    fn from_str(s: &str) -> Result<Self, Refusal> {
        let refusal = |()| Refusal::PictureName { text: s.chars().take(80).collect() };
        s.parse().map(Self).map_err(refusal)
    }
}

impl TryFrom<String> for PictureId {
    type Error = Refusal;

    fn try_from(s: String) -> Result<Self, Refusal> {
        s.parse()
    }
}

impl From<PictureId> for String {
    fn from(id: PictureId) -> String {
        id.to_string()
    }
}

/// The folder of pictures: `ab/abcdef…`, one folder for each first two digits.
#[derive(Clone, Debug)]
pub(crate) struct Pictures {
    root: PathBuf,
}

impl Pictures {
    /// The folder, made when missing.
    pub fn open(root: &Path) -> Result<Self, JournalError> {
        make_folder(root)?;
        Ok(Self::at(root))
    }

    /// The folder, only to be read.
    pub fn at(root: &Path) -> Self {
        Self { root: root.to_owned() }
    }

    /// Where a picture lies.
    pub fn path(&self, id: &PictureId) -> PathBuf {
        let name = id.to_string();
        self.root.join(&name[..2]).join(name)
    }

    /// Writes the bytes so that the file is either whole or not there, whatever happens meanwhile. A file that is
    /// there already is kept when it is sound and replaced when it is not.
    pub fn put(&self, bytes: &[u8]) -> Result<PictureId, JournalError> {
        let id = PictureId::of(bytes);
        if self.get(&id).is_ok() {
            return Ok(id);
        }
        let path = self.path(&id);
        let folder = path.parent().unwrap_or(&self.root);
        make_folder(folder)?;
        let failed = |doing| move |e: std::io::Error| JournalError::file(folder, doing, &e);
        let mut file = with_usual_rights(tempfile::Builder::new().prefix(TEMPORARY), 0o666)
            .tempfile_in(folder)
            .map_err(failed("make a file for a picture"))?;
        file.write_all(bytes).map_err(failed("write a picture"))?;
        file.as_file().sync_all().map_err(failed("sync a picture"))?;
        file.persist(&path).map_err(|e| JournalError::file(&path, "name a picture", &e.error))?;
        sync_folder(folder)?;
        Ok(id)
    }

    /// The bytes, checked against the name.
    pub fn get(&self, id: &PictureId) -> Result<Vec<u8>, JournalError> {
        let path = self.path(id);
        let bytes = fs::read(&path).map_err(|e| match e.kind() {
            ErrorKind::NotFound => JournalError::NoPicture(*id),
            _ => JournalError::file(&path, "read a picture", &e),
        })?;
        if PictureId::of(&bytes) != *id {
            return Err(JournalError::PictureChanged(*id));
        }
        Ok(bytes)
    }

    /// Files in the folder that are not among `listed` (sorted), sorted.
    pub fn strays(&self, listed: &[PictureId]) -> Result<Vec<PathBuf>, JournalError> {
        let mut strays = Vec::new();
        for folder in entries(&self.root)? {
            if !folder.is_dir() {
                strays.push(folder);
                continue;
            }
            for file in entries(&folder)? {
                let id = file.file_name().and_then(|n| n.to_str()).and_then(|n| n.parse::<PictureId>().ok());
                let known = id.is_some_and(|id| listed.binary_search(&id).is_ok() && self.path(&id) == file);
                if !known {
                    strays.push(file);
                }
            }
        }
        strays.sort();
        Ok(strays)
    }
}

/// How names of files begin that are still being written.
const TEMPORARY: &str = "incoming-";

/// Lets the user's mask decide who may read what is made, as for any other file: temporary files are private by
/// default, and these are temporary in name only.
pub(crate) fn with_usual_rights<'a, 'b, 'c>(
    builder: &'c mut tempfile::Builder<'a, 'b>,
    mode: u32,
) -> &'c mut tempfile::Builder<'a, 'b> {
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(mode));
    #[cfg(not(unix))]
    let _ = mode;
    builder
}

fn entries(folder: &Path) -> Result<Vec<PathBuf>, JournalError> {
    let failed = |e: std::io::Error| JournalError::file(folder, "list a folder", &e);
    fs::read_dir(folder).map_err(failed)?.map(|entry| entry.map(|e| e.path()).map_err(failed)).collect()
}

/// Makes a folder that is still there after a power cut.
pub(crate) fn make_folder(folder: &Path) -> Result<(), JournalError> {
    if folder.is_dir() {
        return Ok(());
    }
    let parent = folder.parent().filter(|p| !p.as_os_str().is_empty());
    if let Some(parent) = parent {
        make_folder(parent)?;
    }
    match fs::create_dir(folder) {
        Ok(()) => sync_folder(parent.unwrap_or(Path::new("."))),
        // somebody else made it meanwhile
        Err(_) if folder.is_dir() => Ok(()),
        Err(e) => Err(JournalError::file(folder, "make the folder", &e)),
    }
}

/// Makes names in a folder lasting. Windows keeps them without being asked and cannot sync a folder.
pub(crate) fn sync_folder(folder: &Path) -> Result<(), JournalError> {
    if cfg!(windows) {
        return Ok(());
    }
    File::open(folder)
        .and_then(|f| f.sync_all())
        .map_err(|e| JournalError::file(folder, "sync the folder", &e))
}
