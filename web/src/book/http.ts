// Talking to the service. The token goes into the header of each request and nowhere else. A shared phone has no token: a
// cookie that no script can read says which phone it is, and the book knows who is at it.

import { outcomeOf, type Entry, type Picture, type Sent } from './queue'
import type { Problem } from './records'

const patience = 20_000

// sharedPhone stands in the place of a token on a phone that people share.
export const sharedPhone = 'shared'

export class Refused extends Error {
  constructor(readonly problem: Problem) { super(problem.detail) }
}
export class NoSignal extends Error {}

async function ask(path: string, token: string, init: RequestInit = {}): Promise<Response> {
  const shown: Record<string, string> = token === sharedPhone ? {} : { Authorization: 'Bearer ' + token }
  const giveUp = new AbortController()
  init.signal?.addEventListener('abort', () => giveUp.abort())
  const timer = init.signal ? undefined : setTimeout(() => giveUp.abort(), patience) // a person who can stop it decides
  try {
    return await fetch(path, {
      cache: 'no-store', credentials: token === sharedPhone ? 'same-origin' : 'omit', ...init, signal: giveUp.signal,
      headers: { ...(init.headers as Record<string, string>), ...shown },
    })
  } catch {
    throw new NoSignal()
  } finally {
    clearTimeout(timer)
  }
}

const bodyOf = (response: Response): Promise<unknown> => response.json().catch(() => undefined)

const read = async (path: string, token: string, init?: RequestInit): Promise<Response> => answered(await ask(path, token, init))

async function answered(response: Response): Promise<Response> {
  if (response.ok) return response
  const body = (await bodyOf(response)) as Problem | undefined
  if (!body?.detail || response.status >= 500) throw new NoSignal()
  throw new Refused({ ...body, status: response.status })
}

export async function get<T>(path: string, token: string): Promise<T> {
  return (await read(path, token)).json() as Promise<T>
}

export async function getBlob(path: string, token: string): Promise<Blob> {
  return (await read(path, token)).blob()
}

// getFile fetches a paper or another large answer. It has no end of patience, because the caller can stop it, and it tells
// how many bytes have come.
export async function getFile(path: string, token: string, signal: AbortSignal, told: (bytes: number) => void): Promise<Blob> {
  const response = await read(path, token, { signal })
  const parts: BlobPart[] = []
  let bytes = 0
  try {
    for (const reader = response.body!.getReader(); ;) {
      const { value, done } = await reader.read()
      if (done) return new Blob(parts, { type: response.headers.get('Content-Type') ?? '' })
      parts.push(value)
      told(bytes += value.length)
    }
  } catch {
    throw new NoSignal()
  }
}

// sendFile sends a file as it is.
export async function sendFile<T>(path: string, token: string, file: Blob, signal: AbortSignal): Promise<T> {
  return (await answered(await ask(path, token, { method: 'POST', body: file, signal, headers: { 'Content-Type': file.type } }))).json() as Promise<T>
}

// post sends what must not wait in the queue. The mark makes a second try of the same act the same act.
export async function post<T>(path: string, token: string, body: unknown, mark?: string): Promise<T> {
  const response = await ask(path, token, {
    method: 'POST', body: JSON.stringify(body), headers: { 'Content-Type': 'application/json', ...(mark ? { 'Idempotency-Key': mark } : {}) },
  })
  return (await answered(response)).json() as Promise<T>
}

// openShared makes this phone a shared one: the answer brings the cookie, so here alone it is taken beside a token.
export async function openShared(label: string, token: string): Promise<void> {
  await answered(await ask('/v1/sessions', token, {
    method: 'POST', body: JSON.stringify({ label, shared: true }), headers: { 'Content-Type': 'application/json' }, credentials: 'same-origin',
  }))
}

// list reads all pages of a collection, newest first, up to so many pages.
export async function list<T>(path: string, token: string, pages = 20): Promise<T[]> {
  const all: T[] = []
  let next: string | undefined = path + (path.includes('?') ? '&' : '?') + 'limit=500'
  for (let page = 0; next && page < pages; page++) {
    const response = await read(next, token)
    all.push(...((await response.json()) as T[]))
    next = /<([^>]+)>; rel="next"/.exec(response.headers.get('Link') ?? '')?.[1]
  }
  return all
}

// send sends one entry. Its id is the mark by which the book knows it again, also where the body has no id of its own.
export async function send(entry: Entry, token: string): Promise<Sent> {
  try {
    const response = await ask(entry.path, token, {
      method: 'POST', body: JSON.stringify(entry.body),
      headers: { 'Content-Type': 'application/json', 'Idempotency-Key': entry.id, ...(entry.typer ? { 'Typed-By': entry.typer } : {}) },
    })
    return outcomeOf(response.status, await bodyOf(response))
  } catch {
    return { kind: 'later' }
  }
}

export interface Upload { done: Promise<Sent>; stop: () => void }

// sendPicture sends the content of a picture and tells how far it is. It gives up when nothing moves any more, not when it
// takes long: a picture over a weak line is slow. The book has the same content only once, so sending it again is harmless.
export function sendPicture(picture: Picture, content: ArrayBuffer, token: string, typer: string | undefined, onSent: (bytes: number) => void): Upload {
  const request = new XMLHttpRequest()
  const done = new Promise<Sent>(resolve => {
    let stalled: ReturnType<typeof setTimeout>
    const moved = () => {
      clearTimeout(stalled)
      stalled = setTimeout(() => request.abort(), patience)
    }
    request.open('POST', `/v1/attachments?name=${encodeURIComponent(picture.name)}&done_at=${encodeURIComponent(picture.at)}`)
    if (token !== sharedPhone) request.setRequestHeader('Authorization', 'Bearer ' + token)
    if (typer) request.setRequestHeader('Typed-By', typer)
    request.setRequestHeader('Content-Type', picture.type)
    request.upload.onprogress = e => { moved(); onSent(e.loaded) }
    request.onloadend = () => {
      clearTimeout(stalled)
      resolve(request.status === 0 ? { kind: 'later' } : outcomeOf(request.status, jsonOf(request.responseText)))
    }
    moved()
    request.send(content)
  })
  return { done, stop: () => request.abort() }
}

function jsonOf(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return undefined
  }
}
