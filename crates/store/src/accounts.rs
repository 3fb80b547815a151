//! Accounts, and the browsers that are signed in.

use sqlx::FromRow;

use crate::sql::sql;
use crate::store::audit;
use crate::{Store, StoreError};

/// An account, without its password.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct AccountRow {
    /// The code that is typed to sign in, never a name.
    pub code: String,
    /// `director`, `instructor` or `learner`.
    pub role: String,
    /// Of a learner's account: code of the learner whose work it sees.
    pub learner: Option<String>,
    /// When it was made.
    pub created: String,
}

const COLUMNS: &str = "code, role, learner, created";

impl Store {
    /// Keeps a new account with the hash of its password; `false` if there is one with this code.
    ///
    /// # Errors
    /// The database fails, or role and learner do not go together.
    pub async fn add_account(
        &self,
        code: &str,
        role: &str,
        learner: Option<&str>,
        password_hash: &str,
    ) -> Result<bool, StoreError> {
        let insert = "INSERT INTO accounts (code, role, learner, password) VALUES ($1, $2, $3, $4) ON CONFLICT (code) DO NOTHING";
        let mut transaction = self.begin().await?;
        let query = sql(insert).bind(code).bind(role).bind(learner).bind(password_hash);
        let is_new = query.run(&mut transaction).await? > 0;
        if is_new {
            audit(&mut transaction, self.who(), "account added", code).await?;
        }
        transaction.commit().await?;
        Ok(is_new)
    }

    /// All accounts, by role and code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn accounts(&self) -> Result<Vec<AccountRow>, StoreError> {
        let select = format!("SELECT {COLUMNS} FROM accounts ORDER BY role, code");
        sql(select).rows(&self.pool).await
    }

    /// Whether there is any account.
    ///
    /// # Errors
    /// The database fails.
    pub async fn has_accounts(&self) -> Result<bool, StoreError> {
        sql("SELECT EXISTS (SELECT 1 FROM accounts)").value(&self.pool).await
    }

    /// An account and the hash of its password.
    ///
    /// # Errors
    /// The database fails.
    pub async fn account(&self, code: &str) -> Result<Option<(AccountRow, String)>, StoreError> {
        let select = format!("SELECT {COLUMNS} FROM accounts WHERE code = $1");
        let row: Option<AccountRow> = sql(select).bind(code).row_if_any(&self.pool).await?;
        let hash: Option<String> =
            sql("SELECT password FROM accounts WHERE code = $1").bind(code).value_if_any(&self.pool).await?;
        Ok(row.zip(hash))
    }

    /// Gives an account another password and signs it out everywhere; `false` if there is no such account.
    ///
    /// # Errors
    /// The database fails.
    pub async fn set_password(&self, code: &str, password_hash: &str) -> Result<bool, StoreError> {
        let mut transaction = self.begin().await?;
        let update = sql("UPDATE accounts SET password = $1 WHERE code = $2");
        let query = update.bind(password_hash).bind(code);
        let is_there = query.run(&mut transaction).await? > 0;
        if is_there {
            sql("DELETE FROM sign_ins WHERE account = $1").bind(code).run(&mut transaction).await?;
            audit(&mut transaction, self.who(), "password set", code).await?;
        }
        transaction.commit().await?;
        Ok(is_there)
    }

    /// Removes an account and signs it out everywhere; `false` if there is no such account.
    ///
    /// # Errors
    /// The database fails.
    pub async fn remove_account(&self, code: &str) -> Result<bool, StoreError> {
        let mut transaction = self.begin().await?;
        let delete = sql("DELETE FROM accounts WHERE code = $1").bind(code);
        let was_there = delete.run(&mut transaction).await? > 0;
        if was_there {
            audit(&mut transaction, self.who(), "account removed", code).await?;
        }
        transaction.commit().await?;
        Ok(was_there)
    }

    /// Notes a browser as signed in for so many seconds, by the hash of its token. What has ended is cleared away.
    ///
    /// # Errors
    /// The database fails, or there is no such account.
    pub async fn sign_in(&self, code: &str, token_hash: &str, seconds: u32) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        sql("DELETE FROM sign_ins WHERE ends <= utc_now()").run(&mut transaction).await?;
        let insert = "INSERT INTO sign_ins (token, account, ends) VALUES ($1, $2, utc_now($3))";
        sql(insert)
            .bind(token_hash)
            .bind(code)
            .bind(format!("+{seconds} seconds"))
            .run(&mut transaction)
            .await?;
        audit(&mut transaction, code, "signed in", code).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// Whose browser holds the token with this hash: `None` once its time is over or it was left idle for so many seconds.
    ///
    /// # Errors
    /// The database fails.
    pub async fn signed_in(&self, token_hash: &str, idle_s: u32) -> Result<Option<AccountRow>, StoreError> {
        let select = "SELECT a.code, a.role, a.learner, a.created, s.used < utc_now($1) AS stale \
                      FROM sign_ins s JOIN accounts a ON a.code = s.account \
                      WHERE s.token = $2 AND s.ends > utc_now() \
                      AND s.used > utc_now($3)";
        #[derive(FromRow)]
        struct Found {
            #[sqlx(flatten)]
            account: AccountRow,
            stale: bool,
        }
        // One write in so many seconds is enough to tell idle from busy.
        let fresh_s = (idle_s / 10).min(60);
        let found: Option<Found> = sql(select)
            .bind(format!("-{fresh_s} seconds"))
            .bind(token_hash)
            .bind(format!("-{idle_s} seconds"))
            .row_if_any(&self.pool)
            .await?;
        if found.as_ref().is_some_and(|found| found.stale) {
            let update = "UPDATE sign_ins SET used = utc_now() WHERE token = $1";
            sql(update).bind(token_hash).run(&self.pool).await?;
        }
        Ok(found.map(|found| found.account))
    }

    /// Forgets a browser.
    ///
    /// # Errors
    /// The database fails.
    pub async fn sign_out(&self, token_hash: &str) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        let delete = "DELETE FROM sign_ins WHERE token = $1 RETURNING account";
        let code: Option<String> = sql(delete).bind(token_hash).value_if_any(&mut transaction).await?;
        if let Some(code) = code {
            audit(&mut transaction, &code, "signed out", &code).await?;
        }
        transaction.commit().await?;
        Ok(())
    }

    /// Notes that signing in to an account failed.
    ///
    /// # Errors
    /// The database fails.
    pub async fn note_refused_sign_in(&self, code: &str) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        audit(&mut transaction, "unknown", "sign-in refused", code).await?;
        transaction.commit().await?;
        Ok(())
    }
}
