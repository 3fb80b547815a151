//! Meshes as glTF 2.0 binary, which other programs open too: f32, one tight buffer view an accessor, values as attributes.
//!
//! Positions are millimetres; glTF asks for metres, so the node that holds the mesh is scaled by 0.001.

use serde_json::{Value, json};

const VERSION: u32 = 2;
const ARRAY_BUFFER: u32 = 34962;
const ELEMENT_ARRAY_BUFFER: u32 = 34963;
const FLOAT: u32 = 5126;
const UNSIGNED_INT: u32 = 5125;

/// A mesh to be written.
#[derive(Debug, Clone)]
pub struct Glb<'a> {
    /// Name of node and mesh.
    pub name: &'a str,
    /// One point a vertex, mm.
    pub positions: &'a [[f32; 3]],
    /// One unit normal a vertex; may be empty.
    pub normals: &'a [[f32; 3]],
    /// Counter-clockwise seen from outside.
    pub triangles: &'a [[u32; 3]],
    /// Further values, one a vertex, under names that begin with `_`. None of them NaN.
    pub values: &'a [(String, Vec<f32>)],
    /// What else to say of the mesh.
    pub extras: Value,
}

/// What is read of one part of the buffer.
struct Accessor {
    json: Value,
    view: Value,
}

/// The buffer while it grows.
#[derive(Default)]
struct Buffer {
    bytes: Vec<u8>,
    accessors: Vec<Accessor>,
}

impl Glb<'_> {
    /// The file.
    pub fn write(&self) -> Vec<u8> {
        let mut buffer = Buffer::default();
        let n_bytes = self.positions.len() * (24 + 4 * self.values.len()) + 12 * self.triangles.len();
        buffer.bytes.reserve(n_bytes);
        let mut attributes = serde_json::Map::new();
        let place = buffer.vectors(self.positions, true);
        attributes.insert("POSITION".into(), place.into());
        if !self.normals.is_empty() {
            attributes.insert("NORMAL".into(), buffer.vectors(self.normals, false).into());
        }
        for (name, values) in self.values {
            attributes.insert(name.clone(), buffer.scalars(values).into());
        }
        let indices = buffer.indices(self.triangles);
        let (accessors, views): (Vec<Value>, Vec<Value>) =
            buffer.accessors.into_iter().map(|accessor| (accessor.json, accessor.view)).unzip();
        let document = json!({
            "asset": { "version": "2.0", "generator": concat!("kerf ", env!("CARGO_PKG_VERSION")) },
            "scene": 0,
            "scenes": [{ "nodes": [0] }],
            "nodes": [{ "name": self.name, "mesh": 0, "scale": [0.001, 0.001, 0.001] }],
            "meshes": [{
                "name": self.name,
                "primitives": [{ "attributes": attributes, "indices": indices, "mode": 4 }],
                "extras": self.extras,
            }],
            "accessors": accessors,
            "bufferViews": views,
            "buffers": [{ "byteLength": buffer.bytes.len() }],
        });
        packed(&document, &buffer.bytes)
    }
}

impl Buffer {
    fn vectors(&mut self, vectors: &[[f32; 3]], with_bounds: bool) -> usize {
        let start = self.bytes.len();
        for vector in vectors {
            for value in vector {
                self.bytes.extend_from_slice(&value.to_le_bytes());
            }
        }
        let mut json = json!({ "componentType": FLOAT, "count": vectors.len(), "type": "VEC3" });
        if with_bounds {
            let (mut low, mut high) = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
            for vector in vectors {
                for k in 0..3 {
                    low[k] = low[k].min(vector[k]);
                    high[k] = high[k].max(vector[k]);
                }
            }
            json["min"] = json!(low);
            json["max"] = json!(high);
        }
        self.add(json, start, ARRAY_BUFFER)
    }

    fn scalars(&mut self, values: &[f32]) -> usize {
        let start = self.bytes.len();
        for value in values {
            self.bytes.extend_from_slice(&value.to_le_bytes());
        }
        let json = json!({ "componentType": FLOAT, "count": values.len(), "type": "SCALAR" });
        self.add(json, start, ARRAY_BUFFER)
    }

    fn indices(&mut self, triangles: &[[u32; 3]]) -> usize {
        let start = self.bytes.len();
        for corner in triangles.iter().flatten() {
            self.bytes.extend_from_slice(&corner.to_le_bytes());
        }
        let json = json!({ "componentType": UNSIGNED_INT, "count": 3 * triangles.len(), "type": "SCALAR" });
        self.add(json, start, ELEMENT_ARRAY_BUFFER)
    }

    /// All parts are made of four-byte numbers, so that each begins where it may.
    fn add(&mut self, mut json: Value, start: usize, target: u32) -> usize {
        let index = self.accessors.len();
        json["bufferView"] = index.into();
        let view = json!({
            "buffer": 0, "byteOffset": start, "byteLength": self.bytes.len() - start, "target": target,
        });
        self.accessors.push(Accessor { json, view });
        index
    }
}

fn packed(document: &Value, buffer: &[u8]) -> Vec<u8> {
    let mut json = document.to_string().into_bytes();
    json.resize(json.len().next_multiple_of(4), b' ');
    let total = 12 + 8 + json.len() + 8 + buffer.len();
    let mut bytes = Vec::with_capacity(total);
    bytes.extend_from_slice(b"glTF");
    bytes.extend(VERSION.to_le_bytes());
    bytes.extend((total as u32).to_le_bytes());
    for (kind, chunk) in [(b"JSON", &json[..]), (b"BIN\0", buffer)] {
        bytes.extend((chunk.len() as u32).to_le_bytes());
        bytes.extend_from_slice(kind);
        bytes.extend_from_slice(chunk);
    }
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_reader_finds_what_was_written() {
        let positions = [[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [0.0, 3.0, 0.0], [0.0, 0.0, -4.0]];
        let triangles = [[0, 1, 2], [0, 2, 3]];
        let values = [("_DEPTH".to_owned(), vec![0.0f32, 0.5, 1.0, 1.5])];
        let glb = Glb {
            name: "test",
            positions: &positions,
            normals: &[],
            triangles: &triangles,
            values: &values,
            extras: Value::Null,
        };
        let bytes = glb.write();
        let read = gltf::Gltf::from_slice(&bytes).unwrap();
        let (document, blob) = (read.document, read.blob.unwrap());
        let node = document.nodes().next().unwrap();
        assert_eq!(node.transform().decomposed().2, [0.001; 3]);
        let primitive = document.meshes().next().unwrap().primitives().next().unwrap();
        let reader = primitive.reader(|_| Some(&blob));
        assert_eq!(reader.read_positions().unwrap().collect::<Vec<_>>(), positions);
        assert_eq!(reader.read_indices().unwrap().into_u32().collect::<Vec<_>>(), [0, 1, 2, 0, 2, 3]);
        let bounds = primitive.bounding_box();
        assert_eq!((bounds.min, bounds.max), ([0.0, 0.0, -4.0], [2.0, 3.0, 0.0]));
    }
}
