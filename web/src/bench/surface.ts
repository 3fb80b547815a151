/** A scan as three.js draws it: ivory where nothing is known, steps of colour with lines between them where a map is. */

import {
  BufferAttribute,
  BufferGeometry,
  Color,
  DataTexture,
  DoubleSide,
  GLSL3,
  Mesh as Mesh3,
  NearestFilter,
  Plane,
  ShaderMaterial,
  Sphere,
  Vector2,
  Vector3,
  Vector4,
} from 'three'

import type { MapInfo } from '../lib/wire.ts'
import type { Mesh } from './glb.ts'

/** How a body looks that no map is painted on. */
export interface Look {
  colour: string
  opacity: number
}

const VERTEX = /* glsl */ `
uniform float behind;
in float value;
in float known;
out vec3 vNormal;
out vec3 vPlace;
out float vValue;
out float vKnown;
void main() {
  vec4 place = modelMatrix * vec4(position, 1.0);
  vPlace = place.xyz;
  vNormal = normalMatrix * normal;
  vValue = value;
  vKnown = known;
  gl_Position = projectionMatrix * viewMatrix * place;
  gl_Position.z += behind * gl_Position.w;
}`

const FRAGMENT = /* glsl */ `
uniform sampler2D lookup;
uniform vec2 range;
uniform float stepSize;
uniform float linesFrom;
uniform vec4 limits;
uniform float isMapped;
uniform vec3 ground;
uniform float opacity;
uniform vec4 cut;
in vec3 vNormal;
in vec3 vPlace;
in float vValue;
in float vKnown;
out vec4 colour;

float line(float at, float width) {
  float slope = max(fwidth(at), 1e-6);
  return 1.0 - smoothstep(width * 0.5, width * 0.5 + 1.0, abs(at) / slope);
}

float within(float at, vec2 ends) {
  return step(ends.x - 1e-6, at) * step(at, ends.y + 1e-6);
}

void main() {
  if (dot(vec4(vPlace, 1.0), cut) > 0.0) discard;
  vec3 normal = normalize(vNormal) * (gl_FrontFacing ? 1.0 : -1.0);
  float toward = clamp(normal.z, 0.0, 1.0);
  float lit = 0.30 + 0.58 * toward + 0.16 * max(dot(normal, normalize(vec3(-0.45, 0.75, 0.5))), 0.0);
  vec3 shade = ground * (gl_FrontFacing ? lit : 0.55 * lit);
  if (isMapped > 0.5 && vKnown > 0.5 && gl_FrontFacing) {
    float share = clamp((vValue - range.x) / (range.y - range.x), 0.0, 1.0);
    vec3 paint = texture(lookup, vec2(share, 0.5)).rgb;
    float dark = dot(paint, vec3(0.2126, 0.7152, 0.0722));
    vec3 ink = dark < 0.32 ? mix(paint, vec3(1.0), 0.55) : paint * 0.42;
    float at = vValue / stepSize;
    float thin = line(abs(fract(at - 0.5) - 0.5), 0.7) * within(vValue, vec2(linesFrom, range.y));
    float thick = 0.0;
    for (int k = 0; k < 4; k++) thick = max(thick, line(vValue - limits[k], 2.6));
    paint = mix(paint, ink, 0.55 * thin);
    paint = mix(paint, vec3(dark < 0.45 ? 1.0 : 0.06), 0.9 * thick);
    // Mild light only: the surface has to match the legend.
    shade = paint * (0.80 + 0.20 * toward);
  }
  float rim = 1.0 - toward;
  float alpha = opacity >= 1.0 ? 1.0 : opacity * mix(0.45, 1.0, rim * rim);
  colour = vec4(shade, alpha);
}`

const NOWHERE = new Vector4(0, 0, 0, -1)
const NO_LIMIT = 1e9
/** Half of what the camera sees from front to back, mm. */
export const DEPTH_MM = 400
const BEHIND_MM = 0.07

/** One body in the scene. */
export class SurfaceBody {
  readonly mesh: Mesh3<BufferGeometry, ShaderMaterial>
  /** Writes depth alone, so that of a see-through body only its front is seen. */
  readonly veil: Mesh3<BufferGeometry, ShaderMaterial>
  readonly sphere: Sphere
  private readonly source: Mesh

  constructor(source: Mesh, look: Look) {
    this.source = source
    const geometry = geometryOf(source)
    this.sphere = geometry.boundingSphere ?? new Sphere()
    const material = new ShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: VERTEX,
      fragmentShader: FRAGMENT,
      side: DoubleSide,
      uniforms: {
        lookup: { value: null },
        range: { value: new Vector2(0, 1) },
        stepSize: { value: 1 },
        linesFrom: { value: 0 },
        limits: { value: new Vector4(NO_LIMIT, NO_LIMIT, NO_LIMIT, NO_LIMIT) },
        isMapped: { value: 0 },
        ground: { value: new Color() },
        opacity: { value: 1 },
        behind: { value: 0 },
        cut: { value: NOWHERE.clone() },
      },
    })
    this.mesh = new Mesh3(geometry, material)
    const veil = material.clone()
    veil.colorWrite = false
    veil.uniforms = { ...material.uniforms }
    this.veil = new Mesh3(geometry, veil)
    this.look(look)
  }

  look({ colour, opacity }: Look): void {
    const { uniforms } = this.mesh.material
    // Plain sRGB numbers in, the same numbers out: what the legend shows is what the screen shows.
    uniforms.ground!.value.set(colour).convertLinearToSRGB()
    uniforms.opacity!.value = opacity
    const isClear = opacity < 1
    // What is see-through stands back a little, so that it does not flicker where it lies on the scan itself.
    uniforms.behind!.value = isClear ? BEHIND_MM / DEPTH_MM : 0
    this.mesh.material.transparent = isClear
    this.mesh.visible = opacity > 0.01
    this.veil.visible = isClear && this.mesh.visible
    this.veil.renderOrder = 1
    this.mesh.renderOrder = isClear ? 2 : 0
  }

  /** Paints a map, or none. */
  paint(map: MapInfo | null): void {
    const { uniforms } = this.mesh.material
    const values = map && this.source.values.get(map.attribute)
    uniforms.isMapped!.value = values ? 1 : 0
    if (!map || !values) return
    const known = this.source.values.get(`${map.attribute}_KNOWN`)
    const geometry = this.mesh.geometry
    geometry.setAttribute('value', new BufferAttribute(values, 1))
    geometry.setAttribute('known', new BufferAttribute(known ?? new Float32Array(values.length).fill(1), 1))
    uniforms.lookup!.value?.dispose()
    uniforms.lookup!.value = lookupOf(map)
    uniforms.range!.value.set(map.least, map.most)
    uniforms.stepSize!.value = map.step
    // Lengths begin at nothing: a line there would only follow the scatter. An angle of 0° is a limit of its own.
    const isLength = map.unit === 'mm' && map.least === 0
    uniforms.linesFrom!.value = isLength ? map.step / 2 : map.least
  }

  /** Draws a thick line where the value passes one of at most four limits. */
  limit(values: number[]): void {
    this.mesh.material.uniforms.limits!.value.fromArray([0, 1, 2, 3].map((k) => values[k] ?? NO_LIMIT))
  }

  /** Takes away what lies on the positive side of a plane, or nothing. */
  cut(plane: Plane | null): void {
    const value = this.mesh.material.uniforms.cut!.value as Vector4
    if (plane) value.set(plane.normal.x, plane.normal.y, plane.normal.z, plane.constant)
    else value.copy(NOWHERE)
  }

  dispose(): void {
    this.mesh.geometry.dispose()
    this.mesh.material.uniforms.lookup!.value?.dispose()
    this.mesh.material.dispose()
    this.veil.material.dispose()
  }
}

function geometryOf(source: Mesh): BufferGeometry {
  const geometry = new BufferGeometry()
  const empty = new Float32Array(source.positions.length / 3)
  geometry.setAttribute('position', new BufferAttribute(source.positions, 3))
  geometry.setAttribute('value', new BufferAttribute(empty, 1))
  geometry.setAttribute('known', new BufferAttribute(empty, 1))
  geometry.setIndex(new BufferAttribute(source.triangles, 1))
  if (source.normals) geometry.setAttribute('normal', new BufferAttribute(source.normals, 3))
  else geometry.computeVertexNormals()
  geometry.computeBoundingBox()
  geometry.computeBoundingSphere()
  return geometry
}

/** The legend's own colours, step by step, as a strip to look values up in. */
export function strip(map: Pick<MapInfo, 'least' | 'most' | 'legend'>, n = 256): Uint8Array {
  const texels = new Uint8Array(4 * n).fill(255)
  for (let k = 0; k < n; k++) {
    const value = map.least + ((k + 0.5) / n) * (map.most - map.least)
    const step = map.legend.find((step) => value < step.to) ?? map.legend.at(-1)
    const colour = Number.parseInt((step?.colour ?? '#808080').slice(1), 16)
    texels.set([(colour >> 16) & 255, (colour >> 8) & 255, colour & 255], 4 * k)
  }
  return texels
}

function lookupOf(map: MapInfo): DataTexture {
  const texture = new DataTexture(strip(map, 1200), 1200, 1)
  texture.minFilter = texture.magFilter = NearestFilter
  texture.needsUpdate = true
  return texture
}

/** Where most of a scan's surface faces: towards whoever took it. */
export function facingOf(mesh: Mesh): [number, number, number] {
  const sum: [number, number, number] = [0, 0, 0]
  mesh.normals?.forEach((part, k) => (sum[k % 3]! += part))
  const size = Math.hypot(...sum)
  return size > 0 ? (sum.map((part) => part / size) as [number, number, number]) : [0, 0, 1]
}

/** Extent of some bodies: middle and radius. */
export function extent(bodies: Iterable<SurfaceBody>): { middle: Vector3; radius: number } {
  const all = new Sphere()
  all.makeEmpty()
  for (const body of bodies) all.union(body.sphere)
  return { middle: all.center, radius: Math.max(all.radius, 1) }
}
