//! A pot's batch file: read, and looked at again and again.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use crate::batch::plan::Plan;
use crate::config::batch::{self, Batch, fit};
use crate::config::complaint::{Complaint, Complaints};
use crate::config::file;
use crate::config::kitchen::Kitchen;
use crate::show::idle::Begins;

/// A batch file: what it means, and its text as it is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchFile {
    pub plan: Plan,
    pub text: String,
}

impl BatchFile {
    /// # Errors
    /// Where the file cannot be read or is wrong.
    pub fn read(path: &Path, kitchen: &Kitchen) -> Result<Self, Complaints> {
        let text = file::text(path)?;
        let name = path.display().to_string();
        let Batch { recipe, plan, .. } = batch::parse_whole(&name, &text, kitchen, &|_| None)?;
        if let Some(pot) = kitchen.pot(&plan.pot) {
            for words in fit::words(&recipe, kitchen, pot) {
                tracing::warn!(pot = pot.name, "{name}: {words}");
            }
        }
        Ok(Self { plan, text })
    }

    /// # Errors
    /// As [`Self::read`], and where the file is for another pot.
    pub fn read_for(path: &Path, kitchen: &Kitchen, pot: &str) -> Result<Self, Complaints> {
        let read = Self::read(path, kitchen)?;
        if read.plan.pot == pot {
            return Ok(read);
        }
        Err(Complaints(vec![Complaint {
            file: path.display().to_string(),
            line: None,
            key: "pot".to_owned(),
            wrong: format!("\"{}\" is not the pot that this file is named for", read.plan.pot),
            allowed: format!("\"{pot}\""),
            unread: false,
        }]))
    }
}

/// A batch file where the kitchen file says that it lies, and when it was laid there.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    pub file: BatchFile,
    pub utc_ms: i64,
}

impl Laid {
    /// `None` where no file is there.
    ///
    /// # Errors
    /// Where the file cannot be read, is wrong, or is for another pot.
    pub fn read(path: &Path, kitchen: &Kitchen, pot: &str) -> Result<Option<Self>, Complaints> {
        let Some(changed) = changed(path) else { return Ok(None) };
        let file = BatchFile::read_for(path, kitchen, pot)?;
        let since = changed.duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
        Ok(Some(Self { file, utc_ms: i64::try_from(since.as_millis()).unwrap_or(i64::MAX) }))
    }
}

/// A pot's batch file, looked at again and again.
#[derive(Debug)]
pub struct UsualFile {
    path: PathBuf,
    /// When it was last changed, where it was there, when it was last looked at.
    changed: Option<SystemTime>,
    /// The text of the batch that the pot has.
    text: Option<String>,
    /// What is wrong with the file as it lies there.
    wrong: Option<String>,
}

impl UsualFile {
    /// A file that a pot's batch has begun with already, or that is not to be read before it changes.
    #[must_use]
    pub fn known(path: PathBuf, text: Option<String>) -> Self {
        let changed = changed(&path);
        Self { path, changed, text, wrong: None }
    }

    /// How the next batch begins by it.
    #[must_use]
    pub fn begins(&self) -> Begins {
        match &self.wrong {
            Some(why) => Begins::Spoilt(why.clone()),
            None => Begins::Laid(self.path.display().to_string()),
        }
    }

    /// The batch that the file means, where the file is new or changed. What is wrong with it is told
    /// once.
    pub fn news(&mut self, kitchen: &Kitchen, pot: &str) -> Option<BatchFile> {
        let changed = changed(&self.path);
        if changed == self.changed {
            return None;
        }
        (self.changed, self.wrong) = (changed, None);
        changed?;
        match BatchFile::read_for(&self.path, kitchen, pot) {
            Err(why) => {
                tracing::error!("{why}");
                self.wrong = Some(why.to_string());
                None
            }
            Ok(file) if self.text.as_ref() == Some(&file.text) => None,
            Ok(file) => {
                self.text = Some(file.text.clone());
                Some(file)
            }
        }
    }
}

fn changed(path: &Path) -> Option<SystemTime> {
    fs::metadata(path).and_then(|data| data.modified()).ok()
}

#[cfg(test)]
mod tests {
    use super::super::tests::{BATCH, KITCHEN};
    use super::*;

    #[test]
    fn a_batch_file_that_is_laid_down_or_changed_is_news_once() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("big.toml");
        let kitchen = Kitchen::parse("k.toml", KITCHEN).unwrap();
        let mut usual = UsualFile::known(path.clone(), None);
        assert!(usual.news(&kitchen, "big").is_none());
        let lay = |text: &str, age_s: u64| {
            fs::write(&path, text).unwrap();
            let then = SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(age_s);
            fs::File::open(&path).unwrap().set_modified(then).unwrap();
        };
        lay(BATCH, 1);
        assert_eq!(usual.news(&kitchen, "big").unwrap().text, BATCH);
        assert!(usual.news(&kitchen, "big").is_none());
        lay(BATCH, 2);
        assert!(usual.news(&kitchen, "big").is_none(), "it was only touched");
        lay("half a fi", 3);
        assert!(usual.news(&kitchen, "big").is_none(), "it is not whole yet");
        lay(&BATCH.replace("Tuesday", "Wednesday"), 4);
        assert_eq!(usual.news(&kitchen, "big").unwrap().plan.name, "Wednesday base");
        lay(BATCH, 5);
        assert!(usual.news(&kitchen, "small").is_none(), "it is for another pot");
    }
}
