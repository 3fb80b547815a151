/** Reads glTF binary as the server writes it: one mesh, f32, one tight buffer view an accessor, u32 triangles. */

export interface Mesh {
  positions: Float32Array
  normals: Float32Array | null
  triangles: Uint32Array
  /** By attribute name, such as `_REDUCTION`. */
  values: Map<string, Float32Array>
}

interface Accessor {
  bufferView: number
  componentType: number
  count: number
  type: 'SCALAR' | 'VEC3'
  byteOffset?: number
}

interface Gltf {
  accessors: Accessor[]
  bufferViews: { byteOffset?: number; byteStride?: number }[]
  meshes: { primitives: { attributes: Record<string, number>; indices: number }[] }[]
}

const FLOAT = 5126
const UNSIGNED_INT = 5125

/** The mesh of a GLB file, in the file's own numbers (mm). Throws an `Error` that says what is wrong with the file. */
export function readGlb(file: ArrayBuffer): Mesh {
  const { json, binary } = chunks(file)
  const gltf = JSON.parse(new TextDecoder().decode(json)) as Gltf
  const primitive = gltf.meshes[0]?.primitives[0]
  if (!primitive) throw new Error('The model file holds no mesh.')
  const floats = (index: number): Float32Array => {
    const { offset, count } = extent(gltf, index, FLOAT)
    return new Float32Array(binary.buffer, binary.byteOffset + offset, count)
  }
  const { POSITION, NORMAL, ...others } = primitive.attributes
  if (POSITION === undefined) throw new Error('The model file holds no positions.')
  const { offset, count } = extent(gltf, primitive.indices, UNSIGNED_INT)
  return {
    positions: floats(POSITION),
    normals: NORMAL === undefined ? null : floats(NORMAL),
    triangles: new Uint32Array(binary.buffer, binary.byteOffset + offset, count),
    values: new Map(Object.entries(others).map(([name, index]) => [name, floats(index)])),
  }
}

function chunks(file: ArrayBuffer): { json: Uint8Array; binary: Uint8Array } {
  const view = new DataView(file)
  if (file.byteLength < 28 || view.getUint32(0, true) !== 0x46546c67) throw new Error('This is no glTF binary file.')
  const jsonLength = view.getUint32(12, true)
  const binaryStart = 20 + jsonLength + 8
  if (binaryStart > file.byteLength) throw new Error('The model file ends too early.')
  const binaryLength = view.getUint32(20 + jsonLength, true)
  if (binaryStart + binaryLength > file.byteLength) throw new Error('The model file ends too early.')
  return { json: new Uint8Array(file, 20, jsonLength), binary: new Uint8Array(file, binaryStart, binaryLength) }
}

function extent(gltf: Gltf, index: number, componentType: number): { offset: number; count: number } {
  const accessor = gltf.accessors[index]
  const bufferView = accessor && gltf.bufferViews[accessor.bufferView]
  if (!accessor || !bufferView) throw new Error('The model file points at data that it lacks.')
  if (accessor.componentType !== componentType || bufferView.byteStride) {
    throw new Error('The model file is packed in another way than this page reads.')
  }
  const perItem = accessor.type === 'VEC3' ? 3 : 1
  return { offset: (bufferView.byteOffset ?? 0) + (accessor.byteOffset ?? 0), count: accessor.count * perItem }
}
