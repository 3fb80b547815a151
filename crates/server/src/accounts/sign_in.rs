//! Signing in: a random token in a cookie that scripts cannot read, its hash in the database.

use std::net::IpAddr;
use std::time::Instant;

use axum::http::header::COOKIE;
use axum::http::{HeaderMap, HeaderValue, StatusCode};

use super::limits::machine;
use super::password::is_right;
use super::person::Person;
use super::wire::SignInRequest;
use crate::app::App;
use crate::error::ApiError;

impl App {
    /// Whether one has to sign in: on a network always, on this machine once there are accounts.
    pub(crate) async fn has_accounts(&self) -> Result<bool, ApiError> {
        Ok(self.0.config.is_on_network() || self.store().has_accounts().await?)
    }

    /// Who sent a request with these headers.
    pub(crate) async fn person(&self, headers: &HeaderMap) -> Result<Person, ApiError> {
        if !self.has_accounts().await? {
            return Ok(Person::Bench);
        }
        let Some(token) = token_of(self, headers) else { return Ok(Person::Stranger) };
        let row = self.store().signed_in(&hash_of(token), self.0.config.idle_s).await?;
        Ok(row.map_or(Person::Stranger, Person::of))
    }

    /// Ends the sign-in of a token.
    pub(crate) async fn sign_out(&self, token: &str) -> Result<(), ApiError> {
        Ok(self.store().sign_out(&hash_of(token)).await?)
    }
}

/// Checks code and password; gives who it is and the cookie that says so from now on.
///
/// # Errors
/// They are wrong, or were wrong too often of late.
pub async fn sign_in(
    app: &App,
    request: &SignInRequest,
    from: Option<IpAddr>,
) -> Result<(Person, HeaderValue), ApiError> {
    let limits = &app.0.limits;
    let (machine, now) = (machine(from), Instant::now());
    let account_key = request.code.to_lowercase();
    if request.code.len() > 40 || request.password.len() > 1024 {
        return Err(wrong());
    }
    // Counted beforehand, so that many at once do not slip through; given back when the password was right.
    limits.wrong_from_machine.take(&machine, now).map_err(ApiError::too_often)?;
    limits.wrong_for_account.take(&account_key, now).map_err(ApiError::too_often)?;
    let found = app.store().account(&request.code).await?;
    let (password, hash) = (request.password.clone(), found.as_ref().map(|(_, hash)| hash.clone()));
    let permit = limits.hashing.acquire().await.map_err(|_| ApiError::broken())?;
    let is_right = tokio::task::spawn_blocking(move || is_right(&password, hash.as_deref())).await?;
    drop(permit);
    let row = match found {
        Some((row, _)) if is_right => row,
        // Noted in both cases, which takes the same time; what was typed is not noted, since it may be anything.
        refused => {
            let code = refused.as_ref().map_or("no account", |(row, _)| &row.code);
            app.store().note_refused_sign_in(code).await?;
            return Err(wrong());
        }
    };
    limits.wrong_from_machine.give_back(&machine);
    limits.wrong_for_account.give_back(&account_key);
    let token = new_token()?;
    app.store().sign_in(&row.code, &hash_of(&token), app.0.config.signed_in_s).await?;
    let cookie = cookie(app, &token, app.0.config.signed_in_s)?;
    Ok((Person::of(row), cookie))
}

/// The token that a request carries.
pub fn token_of<'a>(app: &App, headers: &'a HeaderMap) -> Option<&'a str> {
    let cookies = headers.get_all(COOKIE).into_iter().filter_map(|value| value.to_str().ok());
    let mut pairs = cookies.flat_map(|line| line.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find(|(name, _)| *name == cookie_name(app)).map(|(_, token)| token)
}

/// A cookie that takes the place of the one before and ends at once.
pub fn clear_cookie(app: &App) -> Result<HeaderValue, ApiError> {
    cookie(app, "", 0)
}

/// With `__Host-` a browser takes the cookie from an encrypted answer of this very host alone.
fn cookie_name(app: &App) -> &'static str {
    if app.0.config.tls.is_some() { "__Host-kerfwright" } else { "kerfwright" }
}

fn cookie(app: &App, token: &str, seconds: u32) -> Result<HeaderValue, ApiError> {
    let name = cookie_name(app);
    let secure = if app.0.config.tls.is_some() { "; Secure" } else { "" };
    let text = format!("{name}={token}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}");
    HeaderValue::from_str(&text).map_err(|_| ApiError::broken())
}

fn new_token() -> Result<String, ApiError> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(|_| ApiError::broken())?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn hash_of(token: &str) -> String {
    kerfwright_measure::attempt::sha256(token.as_bytes())
}

fn wrong() -> ApiError {
    let message = "code or password is wrong; type both again, or ask the director for a new password";
    ApiError { status: StatusCode::UNAUTHORIZED, code: "password", message: message.into() }
}
