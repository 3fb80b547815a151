/** `kerf serve` for a network: accounts made on the command line, connections encrypted with a self-made certificate. */

import { execFileSync, spawn, type ChildProcess } from 'node:child_process'
import { request } from 'node:https'

import { end, findKerf } from './bench.ts'

export const PASSWORD = 'a tray of three burs'

export function addAccount(data: string, code: string, role: string): void {
  execFileSync(findKerf(), ['account', 'add', code, '--role', role, '--data', data], { input: `${PASSWORD}\n`, stdio: ['pipe', 'ignore', 'inherit'] })
}

export class NetworkServer {
  readonly url: string
  /** What it printed. */
  said = ''
  private process: ChildProcess | null = null

  constructor(
    private readonly port: number,
    private readonly data: string,
  ) {
    this.url = `https://127.0.0.1:${port}`
  }

  async start(): Promise<void> {
    const wanted = ['serve', '--listen', '0.0.0.0', '--name', '127.0.0.1', '--self-made-certificate', '--port', String(this.port)]
    this.process = spawn(findKerf(), [...wanted, '--data', this.data, '--no-open'], { stdio: ['ignore', 'pipe', 'inherit'] })
    this.process.stdout!.on('data', (text: Buffer) => (this.said += text.toString()))
    for (let tries = 0; tries < 100; tries++) {
      if (await this.status('GET', '/api/v1/about').then((status) => status === 200, () => false)) return
      await new Promise((resolve) => setTimeout(resolve, 100))
    }
    throw new Error('kerf serve did not answer within 10 s')
  }

  /** The status of an answer to a program that sends no cookie. */
  status(method: string, path: string, headers: Record<string, string> = {}): Promise<number> {
    return new Promise((resolve, reject) => {
      const asked = request(`${this.url}${path}`, { method, headers, rejectUnauthorized: false }, (answer) => {
        answer.resume()
        resolve(answer.statusCode!)
      })
      asked.on('error', reject)
      asked.end()
    })
  }

  async stop(): Promise<void> {
    await end(this.process)
  }
}
