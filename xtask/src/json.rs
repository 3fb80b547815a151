//! A small JSON reader for what cargo prints.

use std::fmt;

/// How deep arrays and objects may be nested before the text is refused.
const MAX_DEPTH: u32 = 128;

/// A JSON value.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A number, as the nearest `f64`.
    Number(f64),
    /// A string with its escapes resolved.
    String(String),
    /// An array.
    Array(Vec<Value>),
    /// An object in the order of the text.
    Object(Vec<(String, Value)>),
}

/// Where and why a text is no JSON.
#[derive(Debug, PartialEq, Eq)]
pub struct JsonError {
    /// Bytes before the fault.
    pub offset: usize,
    /// What was expected there.
    pub fault: &'static str,
}

impl Value {
    /// The member of an object with this name.
    pub fn get(&self, name: &str) -> Option<&Value> {
        match self {
            Self::Object(members) => members.iter().find(|(key, _)| key == name).map(|(_, value)| value),
            _ => None,
        }
    }

    /// The text of a string.
    pub fn as_str(&self) -> Option<&str> {
        match self {
            Self::String(text) => Some(text),
            _ => None,
        }
    }

    /// The items of an array; anything else has none.
    pub fn items(&self) -> &[Value] {
        match self {
            Self::Array(items) => items,
            _ => &[],
        }
    }
}

/// Reads one JSON value that fills the whole text.
pub fn parse(text: &str) -> Result<Value, JsonError> {
    let mut parser = Parser { text, offset: 0 };
    let value = parser.value(0)?;
    parser.skip_blanks();
    if parser.offset < text.len() {
        return Err(parser.fault("the end of the text"));
    }
    Ok(value)
}

impl fmt::Display for JsonError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "no JSON: expected {} at byte {}", self.fault, self.offset)
    }
}

struct Parser<'text> {
    text: &'text str,
    offset: usize,
}

impl Parser<'_> {
    fn value(&mut self, depth: u32) -> Result<Value, JsonError> {
        if depth > MAX_DEPTH {
            return Err(self.fault("less nesting"));
        }
        self.skip_blanks();
        match self.peek() {
            Some(b'{') => self.object(depth),
            Some(b'[') => self.array(depth),
            Some(b'"') => self.string().map(Value::String),
            Some(b'-' | b'0'..=b'9') => self.number(),
            _ if self.take("null") => Ok(Value::Null),
            _ if self.take("true") => Ok(Value::Bool(true)),
            _ if self.take("false") => Ok(Value::Bool(false)),
            _ => Err(self.fault("a value")),
        }
    }

    fn object(&mut self, depth: u32) -> Result<Value, JsonError> {
        let mut members = Vec::new();
        self.offset += 1;
        self.skip_blanks();
        if self.take("}") {
            return Ok(Value::Object(members));
        }
        loop {
            self.skip_blanks();
            let name = self.string()?;
            self.skip_blanks();
            if !self.take(":") {
                return Err(self.fault("a colon"));
            }
            members.push((name, self.value(depth + 1)?));
            self.skip_blanks();
            if self.take("}") {
                return Ok(Value::Object(members));
            }
            if !self.take(",") {
                return Err(self.fault("a comma or }"));
            }
        }
    }

    fn array(&mut self, depth: u32) -> Result<Value, JsonError> {
        let mut items = Vec::new();
        self.offset += 1;
        self.skip_blanks();
        if self.take("]") {
            return Ok(Value::Array(items));
        }
        loop {
            items.push(self.value(depth + 1)?);
            self.skip_blanks();
            if self.take("]") {
                return Ok(Value::Array(items));
            }
            if !self.take(",") {
                return Err(self.fault("a comma or ]"));
            }
        }
    }

    fn number(&mut self) -> Result<Value, JsonError> {
        let rest = &self.text[self.offset..];
        let length = rest.find(|letter: char| !matches!(letter, '0'..='9' | '+' | '-' | '.' | 'e' | 'E'));
        let digits = &rest[..length.unwrap_or(rest.len())];
        let number = digits.parse().map_err(|_| self.fault("a number"))?;
        self.offset += digits.len();
        Ok(Value::Number(number))
    }

    fn string(&mut self) -> Result<String, JsonError> {
        if !self.take("\"") {
            return Err(self.fault("a string"));
        }
        let mut text = String::new();
        loop {
            let letter = self.letter()?;
            match letter {
                '"' => return Ok(text),
                '\\' => text.push(self.escape()?),
                '\0'..='\u{1f}' => return Err(self.fault("an escape instead of a control character")),
                _ => text.push(letter),
            }
        }
    }

    fn escape(&mut self) -> Result<char, JsonError> {
        let letter = self.letter()?;
        Ok(match letter {
            '"' | '\\' | '/' => letter,
            'b' => '\u{8}',
            'f' => '\u{c}',
            'n' => '\n',
            'r' => '\r',
            't' => '\t',
            'u' => return self.unicode_escape(),
            _ => return Err(self.fault("a known escape")),
        })
    }

    fn unicode_escape(&mut self) -> Result<char, JsonError> {
        let first = self.four_hex_digits()?;
        let code = match first {
            0xd800..=0xdbff if self.take("\\u") => {
                let second = self.four_hex_digits()?;
                0x10000 + ((first - 0xd800) << 10) + second.wrapping_sub(0xdc00) % 0x400
            }
            _ => first,
        };
        char::from_u32(code).ok_or_else(|| self.fault("a whole surrogate pair"))
    }

    fn four_hex_digits(&mut self) -> Result<u32, JsonError> {
        let digits = self.text.get(self.offset..self.offset + 4).unwrap_or_default();
        let is_hex = digits.len() == 4 && digits.bytes().all(|byte| byte.is_ascii_hexdigit());
        let code = u32::from_str_radix(digits, 16).ok().filter(|_| is_hex);
        let code = code.ok_or_else(|| self.fault("four hexadecimal digits"))?;
        self.offset += 4;
        Ok(code)
    }

    fn letter(&mut self) -> Result<char, JsonError> {
        let letter = self.text[self.offset..].chars().next();
        let letter = letter.ok_or_else(|| self.fault("the end of a string"))?;
        self.offset += letter.len_utf8();
        Ok(letter)
    }

    fn take(&mut self, word: &str) -> bool {
        let is_next = self.text[self.offset..].starts_with(word);
        if is_next {
            self.offset += word.len();
        }
        is_next
    }

    fn skip_blanks(&mut self) {
        while let Some(b' ' | b'\n' | b'\r' | b'\t') = self.peek() {
            self.offset += 1;
        }
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.offset).copied()
    }

    fn fault(&self, fault: &'static str) -> JsonError {
        JsonError { offset: self.offset, fault }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_every_kind_of_value() {
        let value =
            parse(" {\"a\": [1, -2.5e3, true, false, null], \"b\": {\"c\": \"d\"}, \"e\": [], \"f\": {}} ");
        let value = value.unwrap();
        let numbers =
            [Value::Number(1.0), Value::Number(-2500.0), Value::Bool(true), Value::Bool(false), Value::Null];
        assert_eq!(value.get("a").unwrap().items(), numbers);
        assert_eq!(value.get("b").unwrap().get("c").unwrap().as_str(), Some("d"));
        assert_eq!(value.get("e"), Some(&Value::Array(vec![])));
        assert_eq!(value.get("f"), Some(&Value::Object(vec![])));
        assert_eq!(value.get("g"), None);
    }

    #[test]
    fn resolves_escapes() {
        let value = parse(r#""a\"\\\/\n\tä\u00e4\ud83e\uddb7""#).unwrap();
        assert_eq!(value, Value::String("a\"\\/\n\tää🦷".to_owned()));
    }

    #[test]
    fn refuses_what_is_no_json() {
        let faults = [
            ("", 0, "a value"),
            ("{\"a\" 1}", 5, "a colon"),
            ("[1 2]", 3, "a comma or ]"),
            ("[1,]", 3, "a value"),
            ("{\"a\":1,}", 7, "a string"),
            ("\"a", 2, "the end of a string"),
            ("\"\\x\"", 3, "a known escape"),
            ("\"\\u12g4\"", 3, "four hexadecimal digits"),
            ("\"\\u+123\"", 3, "four hexadecimal digits"),
            ("\"\\ud800\"", 7, "a whole surrogate pair"),
            ("1 2", 2, "the end of the text"),
            ("--1", 0, "a number"),
        ];
        for (text, offset, fault) in faults {
            assert_eq!(parse(text), Err(JsonError { offset, fault }), "{text}");
        }
    }

    #[test]
    fn deep_nesting_is_refused_instead_of_overflowing() {
        assert_eq!(parse(&"[".repeat(100_000)).unwrap_err().fault, "less nesting");
    }
}
