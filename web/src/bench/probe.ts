/** Which point of a body lies under the pointer: one pixel is drawn with positions in place of colours and read back. */

import {
  FloatType,
  GLSL3,
  Mesh,
  NearestFilter,
  type OrthographicCamera,
  Scene,
  ShaderMaterial,
  type WebGLRenderer,
  WebGLRenderTarget,
  DoubleSide,
} from 'three'

import type { Point } from '../lib/wire.ts'
import type { SurfaceBody } from './surface.ts'

export class Probe {
  private readonly target = new WebGLRenderTarget(1, 1, {
    type: FloatType,
    minFilter: NearestFilter,
    magFilter: NearestFilter,
  })
  private readonly material = new ShaderMaterial({
    glslVersion: GLSL3,
    side: DoubleSide,
    vertexShader: `out vec3 vPlace;
      void main() { vPlace = (modelMatrix * vec4(position, 1.0)).xyz; gl_Position = projectionMatrix * viewMatrix * vec4(vPlace, 1.0); }`,
    fragmentShader: `uniform vec4 cut; in vec3 vPlace; out vec4 place;
      void main() { if (dot(vec4(vPlace, 1.0), cut) > 0.0) discard; place = vec4(vPlace, 1.0); }`,
    uniforms: { cut: { value: null } },
  })
  private readonly scene = new Scene()
  private readonly mesh = new Mesh(undefined, this.material)

  constructor(private readonly renderer: WebGLRenderer) {
    this.scene.add(this.mesh)
    this.mesh.frustumCulled = false
  }

  /** The point at CSS pixel (x, y) of a view so large; `null` beside the body. */
  at(body: SurfaceBody, camera: OrthographicCamera, x: number, y: number, width: number, height: number): Point | null {
    const pixel = new Float32Array(4)
    this.mesh.geometry = body.mesh.geometry
    this.mesh.matrixWorld.copy(body.mesh.matrixWorld)
    this.mesh.matrixAutoUpdate = this.mesh.matrixWorldAutoUpdate = false
    this.material.uniforms.cut!.value = body.mesh.material.uniforms.cut!.value
    camera.setViewOffset(width, height, Math.floor(x), Math.floor(y), 1, 1)
    const clear = this.renderer.getClearAlpha()
    this.renderer.setClearAlpha(0)
    this.renderer.setRenderTarget(this.target)
    this.renderer.clear()
    this.renderer.render(this.scene, camera)
    this.renderer.readRenderTargetPixels(this.target, 0, 0, 1, 1, pixel)
    this.renderer.setRenderTarget(null)
    this.renderer.setClearAlpha(clear)
    camera.clearViewOffset()
    return pixel[3]! > 0.5 ? [pixel[0]!, pixel[1]!, pixel[2]!] : null
  }

  dispose(): void {
    this.target.dispose()
    this.material.dispose()
  }
}
