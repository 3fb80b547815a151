//! The answers that many questions have in common, added to the description in one place.

use utoipa::Modify;
use utoipa::openapi::path::Operation;
use utoipa::openapi::{Content, OpenApi, Ref, Response};

use crate::accounts::{PREFIX, RULES, Right};

/// Adds them.
pub struct CommonAnswers;

impl Modify for CommonAnswers {
    fn modify(&self, description: &mut OpenApi) {
        for (path, item) in &mut description.paths.paths {
            let of_method = [
                ("GET", &mut item.get),
                ("POST", &mut item.post),
                ("PATCH", &mut item.patch),
                ("DELETE", &mut item.delete),
            ];
            for (method, operation) in of_method {
                if let Some(operation) = operation {
                    add(method, path, operation);
                }
            }
        }
    }
}

fn add(method: &str, path: &str, operation: &mut Operation) {
    let rule = RULES.iter().find(|rule| rule.method == method && path == format!("{PREFIX}{}", rule.path));
    let is_open = rule.is_some_and(|rule| rule.right == Right::Enter);
    let mut answers = vec![("403", "foreign host name or page, or an account that may not do this")];
    if !is_open {
        answers.push(("401", "there are accounts, and nobody is signed in"));
    }
    if operation.parameters.is_some() || operation.request_body.is_some() {
        answers.push(("400", "the address, its query or the body cannot be read"));
    }
    if operation.request_body.is_some() {
        answers.push(("408", "the body came too slowly"));
        answers.push(("413", "the body is too large"));
        answers.push(("415", "the body is not of the type that is asked for"));
        answers.push(("422", "the body does not say what is asked for"));
    }
    for (status, words) in answers {
        operation.responses.responses.entry(status.to_owned()).or_insert_with(|| refusal(words).into());
    }
}

fn refusal(words: &str) -> Response {
    let mut response = Response::new(words);
    let content = Content::new(Some(Ref::from_schema_name("ErrorAnswer")));
    response.content.insert("application/json".to_owned(), content.into());
    response
}
