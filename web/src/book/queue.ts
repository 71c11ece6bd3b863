// The queue of entries that were written on this phone. An entry leaves it in two ways only: the book has it, or a person
// discards it. A refused one stays until a person has decided about it.

import type { Problem, Quantity, Written } from './records'

// Said is what an entry says, for showing it to people in their own language.
export interface Said {
  act: 'cut' | 'spread' | 'spray' | 'read' | 'turn' | 'print' | 'see' | 'water' | 'wash' | 'pack' | 'load' | 'graze' | 'log' | 'action' | 'request'
    | 'deliver' | 'mend' | 'void' | 'hold' | 'return' | 'lost' | 'discard' | 'test' | 'input'
  beds?: string[]
  thing?: string
  quantity?: Quantity
  readings?: { probe: string; value: string; unit: string }[]
  on: string
  already?: boolean
}

// Touches is what a waiting entry would change in judgements: the phone must be careful with these beds.
export interface Touches { bed_ids: string[]; lot_ids?: string[]; what: string; on: string; seen?: boolean; held?: boolean }

// Picture is a photo or paper that an entry names. Its content lies beside the queue, by its hash, until the book has it.
export interface Picture { hash: string; bytes: number; name: string; type: string; at: string; sent?: boolean }

export interface Entry {
  id: string // also the id in the body: sent twice, it is written once
  order: number
  path: string
  body: Record<string, unknown>
  said: Said
  farm: string
  typer?: string // on a shared phone: who typed it, and alone may send it
  touches?: Touches
  pictures?: Picture[]
  state: 'waiting' | 'refused'
  problem?: Problem
}

export interface QueueStore {
  all(): Promise<Entry[]>
  put(entry: Entry): Promise<void>
  remove(id: string): Promise<void>
}

export type Sent =
  | { kind: 'written'; record: Written }
  | { kind: 'refused'; problem: Problem }
  | { kind: 'later' } // no signal, or the service cannot just now
  | { kind: 'signed-out' }

export type Passed = { end: 'done' | 'later' | 'signed-out' }

// sendAll sends what waits, oldest first: manure spread before a cut must reach the book before the cut. It stops where
// the connection does, and goes on after a refusal, which concerns that entry alone.
export async function sendAll(
  store: QueueStore, farm: string, person: string, send: (entry: Entry) => Promise<Sent>, told: (entry: Entry, sent: Sent) => Promise<void> | void,
): Promise<Passed> {
  for (const { id } of await store.all()) {
    // A person may have taken it out while others were sent.
    const entry = (await store.all()).find(e => e.id === id)
    if (entry?.state !== 'waiting') continue
    if (entry.farm !== farm) continue // written while signed in to another farm; never sent to this one
    if (entry.typer && entry.typer !== person) continue // it goes out under the name of whoever typed it, or not yet
    const sent = await send(entry)
    if (sent.kind === 'later' || sent.kind === 'signed-out') return { end: sent.kind }
    if (sent.kind === 'refused') await store.put({ ...entry, state: 'refused', problem: sent.problem })
    else await store.remove(entry.id)
    await told(entry, sent)
  }
  return { end: 'done' }
}

// pause gives the milliseconds to wait after so many failures in a row: 2 s, 4 s … 2 min, spread so that the phones of a
// crew that come back into signal together don't all knock at once.
export function pause(failures: number, random = Math.random()): number {
  const full = Math.min(120_000, 1000 * 2 ** Math.min(failures, 10))
  return Math.round(full * (0.75 + random / 2))
}

// outcomeOf sorts an answer of the service. Only what the service itself refuses counts as a refusal; everything that may
// go through later stays in the queue.
export function outcomeOf(status: number, body: unknown): Sent {
  if (status === 200 || status === 201) return { kind: 'written', record: body as Written }
  if (status === 401) return { kind: 'signed-out' }
  const problem = asProblem(status, body)
  if (status === 403 && problem?.title === 'Typed by somebody else') return { kind: 'signed-out' } // people changed over meanwhile
  if (status === 408 || status === 425 || status === 429 || status >= 500 || !problem) return { kind: 'later' }
  return { kind: 'refused', problem }
}

// asProblem takes only the service's own refusals: a page of a captive portal or a proxy says nothing about the entry.
function asProblem(status: number, body: unknown): Problem | undefined {
  const p = body as Problem | undefined
  return p && typeof p === 'object' && typeof p.detail === 'string' && typeof p.title === 'string' ? { ...p, status } : undefined
}
