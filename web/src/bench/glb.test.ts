import { describe, expect, it } from 'vitest'

import { readGlb } from './glb.ts'

/** A file as the format's specification lays it out, written by hand. */
function file(json: object, binary: ArrayBuffer): ArrayBuffer {
  const text = new TextEncoder().encode(JSON.stringify(json))
  const padded = Math.ceil(text.length / 4) * 4
  const bytes = new Uint8Array(20 + padded + 8 + binary.byteLength).fill(32)
  const view = new DataView(bytes.buffer)
  view.setUint32(0, 0x46546c67, true)
  view.setUint32(4, 2, true)
  view.setUint32(8, bytes.length, true)
  view.setUint32(12, padded, true)
  view.setUint32(16, 0x4e4f534a, true)
  bytes.set(text, 20)
  view.setUint32(20 + padded, binary.byteLength, true)
  view.setUint32(24 + padded, 0x004e4942, true)
  bytes.set(new Uint8Array(binary), 28 + padded)
  return bytes.buffer
}

const binary = (() => {
  const buffer = new ArrayBuffer(36 + 12 + 12)
  new Float32Array(buffer, 0, 9).set([0, 0, 0, 2, 0, 0, 0, 3, -4])
  new Float32Array(buffer, 36, 3).set([0.25, 1.5, 2])
  new Uint32Array(buffer, 48, 3).set([0, 1, 2])
  return buffer
})()

const triangle = {
  meshes: [{ primitives: [{ attributes: { POSITION: 0, _REDUCTION: 1 }, indices: 2 }] }],
  accessors: [
    { bufferView: 0, componentType: 5126, count: 3, type: 'VEC3' },
    { bufferView: 1, componentType: 5126, count: 3, type: 'SCALAR' },
    { bufferView: 2, componentType: 5125, count: 3, type: 'SCALAR' },
  ],
  bufferViews: [{ byteOffset: 0 }, { byteOffset: 36 }, { byteOffset: 48 }],
}

describe('readGlb', () => {
  it('gives positions, values and triangles', () => {
    const mesh = readGlb(file(triangle, binary))
    expect([...mesh.positions]).toEqual([0, 0, 0, 2, 0, 0, 0, 3, -4])
    expect([...mesh.triangles]).toEqual([0, 1, 2])
    expect([...mesh.values.get('_REDUCTION')!]).toEqual([0.25, 1.5, 2])
    expect(mesh.normals).toBeNull()
  })

  it('refuses what is cut off, strange, or packed otherwise', () => {
    const whole = file(triangle, binary)
    expect(() => readGlb(whole.slice(0, whole.byteLength - 8))).toThrow(/too early/)
    expect(() => readGlb(new ArrayBuffer(64))).toThrow(/no glTF/)
    const packed = structuredClone(triangle)
    packed.accessors[0]!.componentType = 5123
    expect(() => readGlb(file(packed, binary))).toThrow(/another way/)
  })
})
