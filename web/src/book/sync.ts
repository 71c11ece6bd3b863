// Sending what waits: at once when written, again when signal comes back, and in between with growing pauses.

import { dayIn, instant } from './days'
import { send, sendPicture, type Upload } from './http'
import { newId } from './id'
import { keep, picture, queueStore } from './keep'
import { refresh } from './known'
import type { Taken } from './picture'
import { pause, sendAll, type Entry, type Said, type Sent, type Touches } from './queue'
import { change, current } from './state'

let timer: ReturnType<typeof setTimeout> | undefined
let round: Promise<void> | undefined
const waitingFor = new Map<string, (sent: Sent) => void>()

export function startSending(): void {
  addEventListener('online', () => void sync())
  addEventListener('visibilitychange', () => document.visibilityState === 'visible' && void sync())
}

const showQueue = async () => change({ queue: await queueStore.all() })

// sync sends all that waits; one round at a time, also across tabs where the browser has locks.
export function sync(byTimer = false): Promise<void> {
  round ??= locked(() => sendRound(byTimer)).finally(() => { round = undefined })
  return round
}

function locked(act: () => Promise<void>): Promise<void> {
  return navigator.locks ? navigator.locks.request('croftmark-send', act) : act()
}

async function sendRound(byTimer: boolean): Promise<void> {
  const { token, farm, queue, proved, stopped } = current()
  const mine = (e: Entry) => e.state === 'waiting' && e.farm === farm && (!e.typer || e.typer === proved)
  if (!token || stopped || !queue.some(mine)) return
  change({ line: 'sending' })
  const passed = await sendAll(queueStore, farm, proved, entry => sendWhole(entry, token), told)
  change({ sendingNow: undefined })
  await showQueue()
  if (current().stopped) {
    change({ line: 'idle' })
  } else if (passed.end === 'later') {
    change({ line: 'no-signal' })
    // Only the rounds of the clock lengthen the pause: writing fifty entries without signal must not make it endless.
    if (byTimer || timer === undefined) {
      change({ failures: current().failures + 1 })
      timer = setTimeout(() => { timer = undefined; void sync(true) }, pause(current().failures))
    }
  } else {
    clearTimeout(timer)
    timer = undefined
    change({ line: passed.end === 'signed-out' ? 'signed-out' : 'idle', failures: 0 })
  }
  // An entry may have been written while the round was under way.
  if (passed.end === 'done' && current().queue.some(mine)) setTimeout(() => void sync(), 0)
  if (passed.end === 'done') void refresh({ lists: true })
}

let upload: Upload | undefined

// sendWhole sends an entry's pictures and then the entry that names them. A picture that the book has is not sent again.
async function sendWhole(entry: Entry, token: string): Promise<Sent> {
  let pictures = entry.pictures ?? []
  const of = pictures.reduce((n, p) => n + p.bytes, 0)
  let before = 0
  for (const p of pictures) {
    const content = p.sent ? undefined : await picture(p.hash)
    if (content) {
      upload = sendPicture(p, content, token, entry.typer, bytes => change({ sendingNow: { id: entry.id, sent: before + bytes, of } }))
      const sent = await upload.done
      upload = undefined
      if (current().stopped) return { kind: 'later' }
      if (sent.kind !== 'written') return sent
      pictures = pictures.map(x => (x.hash === p.hash ? { ...x, sent: true } : x))
      await queueStore.put({ ...entry, pictures })
    }
    before += p.bytes
  }
  return send(entry, token)
}

// stopSending lets a person stop a picture on a line that is too weak or too dear. Everything waits until they go on.
export function stopSending(): void {
  change({ stopped: true })
  upload?.stop()
}

export function goOnSending(): void {
  change({ stopped: false })
  void sync()
}

async function told(entry: Entry, sent: Sent): Promise<void> {
  if (sent.kind === 'written') {
    const note = { id: entry.id, at: Date.now(), entry, record: { ...sent.record } }
    const all = [note, ...current().sent.filter(n => n.id !== entry.id)].slice(0, 60)
    change({ sent: all })
    await keep('sent', all)
  }
  await showQueue()
  waitingFor.get(entry.id)?.(sent)
  waitingFor.delete(entry.id)
}

// today is the farm's day by the phone's clock.
export const today = (): string => dayIn(current().known?.farm.time_zone)

export interface Writing { path: string; body: Record<string, unknown>; said: Omit<Said, 'on'> & { on?: string }; touches?: Touches; id?: string; pictures?: Taken[]; bare?: boolean }

// write puts an entry into the queue, and says what became of it if that is known within a few seconds. A bare body is an
// act on a record, as a correction, and takes nothing beside its own fields.
export async function write(w: Writing): Promise<{ id: string; sent: Sent }> {
  const { ids, sent } = await writeAll([w])
  return { id: ids[0]!, sent }
}

// writeAll puts the entries of one act into the queue, all or none: a page that is left while the first is on its way
// must not lose the second. They go out in their order, and what became of the last is said.
export async function writeAll(acts: Writing[]): Promise<{ ids: string[]; sent: Sent }> {
  const first = Math.max(Date.now(), ...current().queue.map(e => e.order + 1))
  const entries = acts.map((w, i) => entryOf(w, first + i))
  await queueStore.putAll(entries, acts.flatMap(w => w.pictures ?? []))
  await showQueue()
  const ids = entries.map(e => e.id)
  return { ids, sent: await outcome(ids[ids.length - 1]!) }
}

function entryOf(w: Writing, order: number): Entry {
  const { farm, doer, person } = current()
  const id = w.id ?? newId()
  const now = instant()
  return {
    id, path: w.path, farm, state: 'waiting', ...(person ? { typer: person } : {}), order,
    body: {
      ...(w.bare ? {} : { id, done_at: now, device_at: now, ...(doer ? { done_by: doer } : {}) }), ...w.body, ...(w.pictures?.length && !w.bare ? { attachments: w.pictures.map(p => p.hash) } : {}),
    },
    said: { on: today(), ...w.said }, touches: w.touches, ...(w.pictures?.length ? { pictures: w.pictures.map(({ content: _, ...p }) => p) } : {}),
  }
}

// resend tries a refused entry again, changed or not, under its own id.
export async function resend(entry: Entry, changed: Record<string, unknown> = {}, said: Partial<Said> = {}): Promise<Sent> {
  const { problem: _, ...rest } = entry
  await queueStore.put({ ...rest, state: 'waiting', body: { ...entry.body, ...changed }, said: { ...entry.said, ...said } })
  await showQueue()
  return outcome(entry.id)
}

// without sends an entry again without its pictures, when it is one of them that the book refuses.
export function without(entry: Entry): Promise<Sent> {
  return resend({ ...entry, pictures: undefined }, { attachments: undefined })
}

// discard takes an entry out for good. Only a person does that, after being asked.
export async function discard(id: string): Promise<void> {
  await queueStore.remove(id)
  await showQueue()
}

function outcome(id: string): Promise<Sent> {
  return new Promise(resolve => {
    const enough = setTimeout(() => { waitingFor.delete(id); resolve({ kind: 'later' }) }, 6000)
    waitingFor.set(id, sent => { clearTimeout(enough); resolve(sent) })
    void sync().then(() => {
      if (current().stopped || current().line === 'no-signal' || current().line === 'signed-out') {
        clearTimeout(enough)
        if (waitingFor.delete(id)) resolve({ kind: 'later' })
      }
    })
  })
}
