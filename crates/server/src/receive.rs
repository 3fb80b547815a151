//! Taking in a body: not more than is wanted, and not slower than a slow network.

use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;
use http_body_util::BodyExt;
use tokio::time::Instant;

use crate::error::ApiError;

/// Largest body that is no scan.
const SMALL_BYTES: usize = 256 << 10;
/// A sender that stays silent for so long is given up.
const IDLE: Duration = Duration::from_secs(15);
/// What every sender has, however little it sends.
const GRACE: Duration = Duration::from_secs(30);
/// After that, the least that a network must carry, bytes a second: a tenth of a slow phone's.
const LEAST_RATE: u64 = 32 << 10;

/// Why a body was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// More than is taken.
    TooLarge,
    /// It came too slowly.
    TooSlow,
    /// The connection broke.
    Broken,
}

/// The whole of a body.
///
/// # Errors
/// See [`Fault`].
pub async fn receive(mut body: Body, most: usize) -> Result<Bytes, Fault> {
    let start = Instant::now();
    let mut bytes = Vec::new();
    loop {
        let frame = tokio::time::timeout(IDLE, body.frame()).await.map_err(|_| Fault::TooSlow)?;
        let Some(frame) = frame else { return Ok(bytes.into()) };
        let Ok(data) = frame.map_err(|_| Fault::Broken)?.into_data() else { continue };
        if bytes.len() + data.len() > most {
            return Err(Fault::TooLarge);
        }
        bytes.extend_from_slice(&data);
        if start.elapsed() > GRACE + Duration::from_secs(bytes.len() as u64 / LEAST_RATE) {
            return Err(Fault::TooSlow);
        }
    }
}

/// Takes in the whole of a small body before anything is done with it.
pub async fn small(request: Request, next: Next) -> Result<Response, ApiError> {
    let (parts, body) = request.into_parts();
    let bytes = receive(body, SMALL_BYTES).await.map_err(|fault| fault.told("this request", SMALL_BYTES))?;
    Ok(next.run(Request::from_parts(parts, Body::from(bytes))).await)
}

impl Fault {
    /// As an answer about something of that name.
    pub fn told(self, name: &str, most: usize) -> ApiError {
        let (status, code, message) = match self {
            Self::TooLarge if most >= 1 << 20 => (
                StatusCode::PAYLOAD_TOO_LARGE,
                "too_large",
                format!("{name}: is larger than {} MB; export the scan with fewer triangles", most >> 20),
            ),
            Self::TooLarge => (
                StatusCode::PAYLOAD_TOO_LARGE,
                "too_large",
                format!("{name}: is larger than {} kB; send less at once", most >> 10),
            ),
            Self::TooSlow => (
                StatusCode::REQUEST_TIMEOUT,
                "too_slow",
                format!("{name}: came too slowly; look at the network and send it again"),
            ),
            Self::Broken => {
                (StatusCode::BAD_REQUEST, "broken_off", format!("{name}: broke off; send it again"))
            }
        };
        ApiError { status, code, message }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn as_much_as_is_wanted_is_taken_and_no_more() {
        assert_eq!(receive(Body::from("four"), 4).await.unwrap(), "four");
        assert_eq!(receive(Body::from("fives"), 4).await, Err(Fault::TooLarge));
    }

    #[tokio::test(start_paused = true)]
    async fn a_silent_sender_is_given_up() {
        let silent = Body::from_stream(async_stream::stream! {
            yield Ok::<_, std::io::Error>(Bytes::from_static(b"a"));
            std::future::pending::<()>().await;
        });
        assert_eq!(receive(silent, 100).await, Err(Fault::TooSlow));
    }

    #[tokio::test(start_paused = true)]
    async fn a_dripping_sender_is_given_up() {
        let dripping = Body::from_stream(async_stream::stream! {
            loop {
                tokio::time::sleep(Duration::from_secs(10)).await;
                yield Ok::<_, std::io::Error>(Bytes::from_static(b"a"));
            }
        });
        assert_eq!(receive(dripping, 100).await, Err(Fault::TooSlow));
    }
}
