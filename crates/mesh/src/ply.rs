//! PLY, text and binary of both byte orders.

mod header;
mod rows;

use nalgebra::Point3;

use crate::colour::{VertexColours, from_unit};
use crate::polygon::{Faces, FirstIndex};
use crate::read::{Format, Parsed};
use crate::{Finding, ReadError};
use header::{Element, Encoding, Header, Kind, Property, Scalar};
use rows::{Binary, Fault, Rows, Text};

pub(crate) use header::resembles_ply;

/// Reads a PLY.
pub(crate) fn read(bytes: &[u8]) -> Result<Parsed, ReadError> {
    let header = Header::read(bytes)?;
    let body = &bytes[header.n_bytes..];
    match header.encoding {
        Encoding::Text => read_body(&header, Text::new(body, header.n_lines), Format::PlyText),
        Encoding::LittleEndian => read_body(&header, Binary::<false>::new(body), Format::PlyLittleEndian),
        Encoding::BigEndian => read_body(&header, Binary::<true>::new(body), Format::PlyBigEndian),
    }
}

fn read_body(header: &Header, mut rows: impl Rows, format: Format) -> Result<Parsed, ReadError> {
    let wrong = |fault: &str| ReadError::PlyHeader { line: header.n_lines, fault: fault.into() };
    let mut vertices = Vertices::default();
    let mut faces = Faces::default();
    for element in &header.elements {
        match element.name.as_str() {
            "vertex" => vertices = read_vertices(element, &mut rows, wrong)?,
            "face" => faces = read_faces(element, &mut rows, wrong)?,
            "tristrips" => return Err(wrong("the surface is stored as strips, not as faces")),
            _ => skip(element, &mut rows)?,
        }
    }
    let mut parsed = faces.into_parsed(vertices.points, format, FirstIndex::Zero)?;
    if let Some(colours) = vertices.colours {
        colours.hand_to(&mut parsed);
    }
    let bytes = rows.n_left();
    if bytes > 0 {
        parsed.findings.push(Finding::TrailingBytes { bytes });
    }
    Ok(parsed)
}

/// Calls `row` for every row announced; an error counts those that are there.
fn each_row<R: Rows>(
    element: &Element,
    rows: &mut R,
    mut row: impl FnMut(&mut R) -> Result<(), Fault>,
) -> Result<(), ReadError> {
    for present in 0..element.count {
        if !rows.begin() {
            return Err(element.cut_short(present));
        }
        row(rows).and_then(|()| rows.end()).map_err(|fault| match fault {
            Fault::Ended => element.cut_short(present),
            Fault::Wrong(error) => error,
        })?;
    }
    Ok(())
}

/// How many rows to make room for: never more than there are bytes for.
fn room(element: &Element, rows: &impl Rows) -> usize {
    element.count.min(rows.most_rows(element)) as usize
}

#[derive(Default)]
struct Vertices {
    points: Vec<Point3<f64>>,
    colours: Option<VertexColours>,
}

fn read_vertices(
    element: &Element,
    rows: &mut impl Rows,
    wrong: impl Fn(&str) -> ReadError,
) -> Result<Vertices, ReadError> {
    let column = |names: &[&str]| {
        let is_named = |property: &Property| {
            matches!(property.kind, Kind::One(_)) && names.contains(&property.name.as_str())
        };
        element.properties.iter().position(is_named)
    };
    let [Some(x), Some(y), Some(z)] = [column(&["x"]), column(&["y"]), column(&["z"])] else {
        return Err(wrong("the vertices have no x, y and z"));
    };
    let colour = match ["red", "green", "blue"].map(|name| column(&[name, &format!("diffuse_{name}")])) {
        [Some(red), Some(green), Some(blue)] => Some([red, green, blue]),
        _ => None,
    };
    let mut points = Vec::with_capacity(room(element, rows));
    let mut colours = colour.map(|_| VertexColours::default());
    let mut row = vec![0.0; element.properties.len()];
    each_row(element, rows, |rows| {
        for (value, property) in row.iter_mut().zip(&element.properties) {
            match property.kind {
                Kind::One(scalar) => *value = rows.number(scalar)?,
                Kind::List { count, item } => pass_list(rows, count, item)?,
            }
        }
        points.push(Point3::new(row[x], row[y], row[z]));
        if let (Some(colours), Some(columns)) = (&mut colours, colour) {
            colours
                .push(from_unit(columns.map(|column| share(row[column], element.properties[column].kind))));
        }
        Ok(())
    })?;
    Ok(Vertices { points, colours })
}

/// A colour value as a share of the most its type stands for.
fn share(value: f64, kind: Kind) -> f64 {
    match kind {
        Kind::One(Scalar::F32 | Scalar::F64) => value,
        Kind::One(Scalar::U16) => value / f64::from(u16::MAX),
        _ => value / f64::from(u8::MAX),
    }
}

fn read_faces(
    element: &Element,
    rows: &mut impl Rows,
    wrong: impl Fn(&str) -> ReadError,
) -> Result<Faces, ReadError> {
    let is_corners = |property: &Property| {
        matches!(property.kind, Kind::List { .. })
            && matches!(&*property.name, "vertex_indices" | "vertex_index")
    };
    let corners = element.properties.iter().position(is_corners);
    let Some(corners) = corners.or((element.count == 0).then_some(usize::MAX)) else {
        return Err(wrong("the faces have no list vertex_indices"));
    };
    let mut faces = Faces::default();
    faces.ends.reserve(room(element, rows));
    faces.corners.reserve(3 * room(element, rows));
    each_row(element, rows, |rows| {
        for (column, property) in element.properties.iter().enumerate() {
            match property.kind {
                Kind::One(scalar) => drop(rows.number(scalar)?),
                Kind::List { count, item } if column == corners => {
                    for _ in 0..list_length(rows, count)? {
                        faces.corners.push(as_index(rows.number(item)?));
                    }
                }
                Kind::List { count, item } => pass_list(rows, count, item)?,
            }
        }
        faces.ends.push(faces.corners.len());
        Ok(())
    })?;
    Ok(faces)
}

/// A number as an index; one that is not whole becomes an index no mesh has.
fn as_index(number: f64) -> i64 {
    if number.fract() == 0.0 { number as i64 } else { i64::MIN }
}

fn list_length(rows: &mut impl Rows, count: Scalar) -> Result<u64, Fault> {
    let length = rows.number(count)?;
    // A length that is negative, broken or absurd outruns the file at once.
    Ok(if length >= 0.0 && length.fract() == 0.0 { length as u64 } else { u64::MAX })
}

fn pass_list(rows: &mut impl Rows, count: Scalar, item: Scalar) -> Result<(), Fault> {
    let length = list_length(rows, count)?;
    rows.pass(length, item)
}

/// Passes over an element that says nothing about the surface.
fn skip(element: &Element, rows: &mut impl Rows) -> Result<(), ReadError> {
    if element.properties.is_empty() {
        return Ok(());
    }
    each_row(element, rows, |rows| {
        element.properties.iter().try_for_each(|property| match property.kind {
            Kind::One(scalar) => rows.pass(1, scalar),
            Kind::List { count, item } => pass_list(rows, count, item),
        })
    })
}
