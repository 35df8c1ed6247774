//! `people`: who may come in from another machine.

use std::io::{BufRead as _, IsTerminal as _, Read as _};

use clap::{Args, Subcommand};
use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers};
use crossterm::terminal::{disable_raw_mode, enable_raw_mode};
use jiff::Timestamp;

use crate::input::database;
use crate::output::{End, Trouble, print};
use crate::show::records::moment;
use crate::web::{plain, said_of_may, secret};

/// Arguments of `people`.
#[derive(Args)]
pub(crate) struct People {
    #[command(subcommand)]
    deed: Deed,
}

#[derive(Subcommand)]
enum Deed {
    /// Set the account and its password: asked for twice, or one line of a pipe
    Set {
        /// The name that stands beside what is said
        name: String,
    },
    /// List the account
    List,
    /// Take the account out, with every device that was let in by it
    Forget {
        /// Its name
        name: String,
    },
    /// List the devices that were let in
    Passes,
}

impl People {
    pub(crate) fn run(self, db: Option<&str>) -> Result<End, Trouble> {
        match self.deed {
            Deed::Set { name } => set(&name, db),
            Deed::List => list(db),
            Deed::Forget { name } => forget(&name, db),
            Deed::Passes => passes(db),
        }
    }
}

fn set(name: &str, db: Option<&str>) -> Result<End, Trouble> {
    let name = plain(name).ok_or_else(|| Trouble::Argument {
        remedy: "Give a name of one line, 64 letters at most".to_owned(),
        detail: format!("{name:?} is no name"),
    })?;
    database::wait(async {
        let store = database::to_keep(db).await?;
        if let Some(other) = store.people().await?.iter().find(|one| one.name != name) {
            return Err(Trouble::Argument {
                remedy: format!(
                    "Forget the other account first: ohmstead people forget {:?}",
                    other.name
                ),
                detail: "this version has one account".to_owned(),
            });
        }
        let password = password()?;
        let taken = store.set_person(&name, &secret::hash(&password), Timestamp::now()).await?;
        print(&format!("{name} can log in now.\n"));
        if taken > 0 {
            print(&format!("Devices that were let in before have to come in anew: {taken}.\n"));
        }
        store.close().await;
        Ok(End::Done)
    })
}

fn list(db: Option<&str>) -> Result<End, Trouble> {
    database::wait(async {
        let store = database::to_read(db).await?;
        let people = store.people().await?;
        for person in &people {
            print(&format!("{}, password of {}\n", person.name, moment(person.kept)));
        }
        if people.is_empty() {
            print("Nobody can log in yet: ohmstead people set NAME\n");
        }
        store.close().await;
        Ok(End::Done)
    })
}

fn forget(name: &str, db: Option<&str>) -> Result<End, Trouble> {
    database::wait(async {
        let store = database::existing(db).await?;
        if !store.forget_person(name.trim()).await? {
            return Err(Trouble::Argument {
                remedy: "Look for the name with: ohmstead people list".to_owned(),
                detail: format!("there is no account {name:?}"),
            });
        }
        print(&format!("{} cannot log in any more, nor can the devices let in so.\n", name.trim()));
        store.close().await;
        Ok(End::Done)
    })
}

fn passes(db: Option<&str>) -> Result<End, Trouble> {
    database::wait(async {
        let store = database::to_read(db).await?;
        let passes = store.passes(Timestamp::now()).await?;
        for pass in &passes {
            print(&format!(
                "{}: may {}; let in by {} {}, until {}\n",
                pass.device,
                said_of_may(pass.may),
                pass.person,
                moment(pass.made),
                moment(pass.until),
            ));
        }
        if passes.is_empty() {
            print("No device was let in.\n");
        }
        store.close().await;
        Ok(End::Done)
    })
}

/// The password: typed twice without being shown, or one line of a pipe.
fn password() -> Result<String, Trouble> {
    let given = if std::io::stdin().is_terminal() {
        let (first, second) = typed()?;
        if second != first {
            return Err(Trouble::Argument {
                remedy: "Set it again, and type the same twice".to_owned(),
                detail: "the two were not the same".to_owned(),
            });
        }
        first
    } else {
        line()?
    };
    let refused = |detail: String| Trouble::Argument {
        remedy: format!("Choose a password of {} letters or more", secret::FEWEST),
        detail,
    };
    let letters = given.chars().count();
    if letters < secret::FEWEST {
        return Err(refused(format!("this one has {letters}")));
    }
    if given.len() > secret::MOST {
        return Err(refused(format!("it may have {} bytes at most", secret::MOST)));
    }
    Ok(given)
}

fn line() -> Result<String, Trouble> {
    let mut bytes = Vec::new();
    let most = secret::MOST as u64 + 2;
    let mut pipe = std::io::stdin().lock().take(most);
    pipe.read_until(b'\n', &mut bytes).map_err(Trouble::System)?;
    let text = String::from_utf8(bytes).map_err(|_| Trouble::Argument {
        remedy: "Give the password as text in UTF-8".to_owned(),
        detail: "what came from the pipe is no text".to_owned(),
    })?;
    Ok(text.trim_end_matches(['\r', '\n']).to_owned())
}

/// Reads two lines of the terminal and shows nothing of them, not even of what comes early.
fn typed() -> Result<(String, String), Trouble> {
    enable_raw_mode().map_err(Trouble::System)?;
    let read = both();
    // What cannot be set back now cannot be set back later.
    let _ = disable_raw_mode();
    read.map_err(Trouble::System)?.ok_or_else(|| Trouble::Argument {
        remedy: "Set it again when you are ready".to_owned(),
        detail: "it was broken off, and nothing was changed".to_owned(),
    })
}

fn both() -> std::io::Result<Option<(String, String)>> {
    eprint!("Password, 12 letters or more: ");
    let first = keys()?;
    let Some(first) = first else { return Ok(None) };
    eprint!("The same again: ");
    Ok(keys()?.map(|second| (first, second)))
}

/// One line, or that it was broken off.
fn keys() -> std::io::Result<Option<String>> {
    let mut text = String::new();
    let ended = loop {
        let Event::Key(key) = crossterm::event::read()? else { continue };
        if key.kind == KeyEventKind::Release {
            continue;
        }
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        match key.code {
            KeyCode::Enter => break Some(text),
            // What was typed before this began has another end of line.
            KeyCode::Char('j') if control => break Some(text),
            KeyCode::Char('c' | 'd') if control => break None,
            KeyCode::Esc => break None,
            KeyCode::Backspace => drop(text.pop()),
            KeyCode::Char(letter) if !control && text.len() < secret::MOST => text.push(letter),
            _ => {}
        }
    };
    eprint!("\r\n");
    Ok(ended)
}
