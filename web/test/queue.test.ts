import assert from 'node:assert/strict'
import test from 'node:test'
import { outcomeOf, pause, sendAll, type Entry, type QueueStore, type Sent } from '../src/book/queue'

const entry = (id: string, order: number, more: Partial<Entry> = {}): Entry =>
  ({ id, order, path: '/v1/harvest-lots', body: { id }, said: { act: 'cut', on: '2026-07-01' }, farm: 'f', state: 'waiting', ...more })

function storeOf(...entries: Entry[]): QueueStore & { now(): Entry[] } {
  const map = new Map(entries.map(e => [e.id, e]))
  const now = () => [...map.values()].sort((a, b) => a.order - b.order)
  return { now, all: async () => now(), put: async e => void map.set(e.id, e), remove: async id => void map.delete(id) }
}

const written: Sent = { kind: 'written', record: { id: 'x' } }
const refused: Sent = { kind: 'refused', problem: { title: 'No', status: 409, detail: 'Not clear.' } }

test('entries are sent oldest first and leave the queue once the book has them', async () => {
  const store = storeOf(entry('b', 2), entry('a', 1), entry('c', 3))
  const order: string[] = []
  const passed = await sendAll(store, 'f', '', async e => { order.push(e.id); return written }, () => undefined)
  assert.deepEqual(order, ['a', 'b', 'c'])
  assert.deepEqual(store.now(), [])
  assert.equal(passed.end, 'done')
})

test('without signal it stops at once and keeps everything in its order', async () => {
  const store = storeOf(entry('a', 1), entry('b', 2))
  let asked = 0
  const passed = await sendAll(store, 'f', '', async () => { asked++; return { kind: 'later' } }, () => undefined)
  assert.equal(passed.end, 'later')
  assert.equal(asked, 1)
  assert.deepEqual(store.now().map(e => e.id), ['a', 'b'])
})

test('a refused entry stays with its problem, is not sent again by itself, and does not hold up the others', async () => {
  const store = storeOf(entry('a', 1), entry('b', 2))
  await sendAll(store, 'f', '', async e => (e.id === 'a' ? refused : written), () => undefined)
  assert.deepEqual(store.now().map(e => [e.id, e.state, e.problem?.detail]), [['a', 'refused', 'Not clear.']])
  const again: string[] = []
  await sendAll(store, 'f', '', async e => { again.push(e.id); return written }, () => undefined)
  assert.deepEqual(again, [])
})

test('entries of another farm are never sent to this one', async () => {
  const store = storeOf(entry('a', 1, { farm: 'other' }), entry('b', 2))
  const sent: string[] = []
  await sendAll(store, 'f', '', async e => { sent.push(e.id); return written }, () => undefined)
  assert.deepEqual(sent, ['b'])
  assert.deepEqual(store.now().map(e => e.id), ['a'])
})

test('an ended token stops the round and loses nothing', async () => {
  const store = storeOf(entry('a', 1))
  const passed = await sendAll(store, 'f', '', async () => ({ kind: 'signed-out' }), () => undefined)
  assert.equal(passed.end, 'signed-out')
  assert.equal(store.now().length, 1)
})

test('only the service itself can refuse', () => {
  const problem = { title: 'Not clear', status: 409, detail: 'Wait.' }
  const kinds = ([[201, {}], [200, {}], [401, problem], [409, problem], [422, problem], [403, problem], [404, problem],
    [404, '<html>captive portal</html>'], [502, undefined], [503, problem], [429, problem], [500, problem], [302, undefined]] as const)
    .map(([status, body]) => outcomeOf(status, body).kind)
  assert.deepEqual(kinds, ['written', 'written', 'signed-out', 'refused', 'refused', 'refused', 'refused',
    'later', 'later', 'later', 'later', 'later', 'later'])
})

test('pauses grow, end at two minutes, and differ between phones', () => {
  assert.equal(pause(1, 0.5), 2000)
  assert.equal(pause(3, 0.5), 8000)
  assert.equal(pause(60, 0.5), 120_000)
  assert.ok(pause(4, 0) < pause(4, 1))
})

test('on a shared phone an entry goes out only while the one who typed it is at it', async () => {
  const store = storeOf(entry('a', 1, { typer: 'teo' }), entry('b', 2, { typer: 'ana' }), entry('c', 3))
  const sent: string[] = []
  await sendAll(store, 'f', 'ana', async e => { sent.push(e.id); return written }, () => undefined)
  assert.deepEqual(sent, ['b', 'c'])
  assert.deepEqual(store.now().map(e => e.id), ['a'])
  assert.equal(outcomeOf(403, { title: 'Typed by somebody else', status: 403, detail: 'x' }).kind, 'signed-out')
})
