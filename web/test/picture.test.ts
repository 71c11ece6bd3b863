import 'fake-indexeddb/auto'
import assert from 'node:assert/strict'
import test from 'node:test'
import { picture, queueStore } from '../src/book/keep'
import { fit, sizeOf } from '../src/book/picture'
import { sendAll, type Entry } from '../src/book/queue'

const entry = (id: string, order: number, ...hashes: string[]) => ({
  id, order, path: '/p', body: { id }, said: { act: 'see', on: '2026-07-01' }, farm: 'f', state: 'waiting',
  pictures: hashes.map(hash => ({ hash, bytes: 3, name: 'x.jpg', type: 'image/jpeg', at: '2026-07-01T08:00:00-04:00' })),
}) as Entry
const content = (...bytes: number[]) => new Uint8Array(bytes).buffer

test('pictures are kept with their entry, and go with the last entry that names them', async () => {
  await queueStore.putAll([entry('a', 1, 'h1', 'h2')], [{ hash: 'h1', content: content(1, 2) }, { hash: 'h2', content: content(3) }])
  await queueStore.put(entry('b', 2, 'h2'))
  assert.deepEqual(new Uint8Array((await picture('h1'))!), new Uint8Array([1, 2]))
  await queueStore.remove('a')
  assert.equal(await picture('h1'), undefined)
  assert.ok(await picture('h2'), 'another entry still names it')
  await queueStore.remove('b')
  assert.equal(await picture('h2'), undefined)
})

test('an entry that is taken out while others are sent is not sent', async () => {
  for (const e of [entry('a', 1), entry('b', 2), entry('c', 3)]) await queueStore.put(e)
  const sent: string[] = []
  await sendAll(queueStore, 'f', '', async e => {
    sent.push(e.id)
    if (e.id === 'a') await queueStore.remove('b')
    return { kind: 'written', record: { id: e.id } }
  }, () => undefined)
  assert.deepEqual(sent, ['a', 'c'])
})

test('a picture is made to fit without being made larger', () => {
  assert.deepEqual(fit(4000, 3000), { width: 1600, height: 1200 })
  assert.deepEqual(fit(1200, 4800), { width: 400, height: 1600 })
  assert.deepEqual(fit(640, 480), { width: 640, height: 480 })
})

test('sizes are written for people', () => {
  assert.deepEqual([sizeOf(12), sizeOf(345_678), sizeOf(2_340_000)], ['1 kB', '346 kB', '2.3 MB'])
})
