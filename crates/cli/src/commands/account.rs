//! `kerf account`: who may sign in to the app.

use std::io::{BufRead, IsTerminal, stdin};

use anyhow::{Context, bail};
use clap::{Args, Subcommand, ValueEnum};
use kerfwright_server::accounts::{self, Role};
use kerfwright_store::Store;

use super::class::data::{Data, Open};
use crate::columns::Columns;

/// Accounts of the app.
#[derive(Debug, Args)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Where everything is kept.
    #[command(flatten)]
    pub data: Data,
}

/// What to do with accounts.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make an account. Its password is asked for, or read from standard input.
    Add {
        /// The code that is typed to sign in: a code, never a name.
        code: String,
        /// What it is for.
        #[arg(long, value_enum)]
        role: RoleName,
        /// Of a learner's account: the code under which the learner's work lies, if it is another.
        #[arg(long, value_name = "CODE")]
        learner: Option<String>,
    },
    /// List the accounts.
    List,
    /// Remove an account and sign it out everywhere; what a learner has done stays.
    Remove {
        /// Its code.
        code: String,
    },
    /// Give an account another password and sign it out everywhere.
    Password {
        /// Its code.
        code: String,
    },
}

/// Roles by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum RoleName {
    /// Sees the whole class, remarks, and keeps accounts.
    Director,
    /// Sees the whole class and remarks.
    Instructor,
    /// Sees the work under the own code.
    Learner,
}

impl From<RoleName> for Role {
    fn from(name: RoleName) -> Self {
        match name {
            RoleName::Director => Self::Director,
            RoleName::Instructor => Self::Instructor,
            RoleName::Learner => Self::Learner,
        }
    }
}

/// Does it.
pub fn run(arguments: &Arguments) -> anyhow::Result<()> {
    let Open { store, runtime } = arguments.data.open()?;
    runtime.block_on(async {
        let store = store.acting_as("command line");
        let done = act(&store, &arguments.command).await;
        store.close().await;
        done
    })
}

async fn act(store: &Store, command: &Command) -> anyhow::Result<()> {
    match command {
        Command::Add { code, role, learner } => {
            let role = Role::from(*role);
            accounts::add(store, code, role, learner.as_deref(), &password()?).await?;
            println!("{code}: may sign in as {}.", role.id());
        }
        Command::List => list(store).await?,
        Command::Remove { code } => {
            accounts::remove(store, code).await?;
            println!("{code}: may no longer sign in.");
            if !store.has_accounts().await? {
                println!(
                    "That was the last account: on this machine the app is open without signing in, on a network it is closed."
                );
            }
        }
        Command::Password { code } => {
            accounts::set_password(store, code, &password()?).await?;
            println!("{code}: has another password, and is signed out everywhere.");
        }
    }
    Ok(())
}

async fn list(store: &Store) -> anyhow::Result<()> {
    let rows = store.accounts().await?;
    if rows.is_empty() {
        println!(
            "No accounts: the app is open to this machine alone. Make one with kerf account add CODE --role director."
        );
        return Ok(());
    }
    let mut columns = Columns::new(&[false; 4]);
    columns.row(["code", "role", "sees the work of", "made"]);
    for row in rows {
        let day = row.created.split('T').next().unwrap_or_default();
        columns.row([&row.code, &row.role, row.learner.as_deref().unwrap_or("everybody"), day]);
    }
    print!("{}", columns.render());
    Ok(())
}

/// From the terminal, typed twice and not shown; else the first line of standard input. Never from an argument, which other programs
/// of the machine can read.
fn password() -> anyhow::Result<String> {
    if !stdin().is_terminal() {
        let mut line = String::new();
        stdin().lock().read_line(&mut line).context("standard input: cannot be read")?;
        let password = line.trim_end_matches(['\r', '\n']).to_owned();
        if password.is_empty() {
            bail!(
                "standard input: has no password in its first line; write it there, or run this in a terminal and type it"
            );
        }
        return Ok(password);
    }
    let ask = |what| {
        rpassword::prompt_password(what)
            .context("the terminal cannot be read; give the password on standard input")
    };
    let password = ask("Password: ")?;
    if ask("Once more: ")? != password {
        bail!("the two passwords differ; run it again and type the same twice");
    }
    Ok(password)
}
