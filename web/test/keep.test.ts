import 'fake-indexeddb/auto'
import assert from 'node:assert/strict'
import test from 'node:test'
import { forgetKept, keep, kept, queueStore } from '../src/book/keep'
import type { Entry } from '../src/book/queue'

test('the queue survives in order, and clearing what is known leaves it alone', async () => {
  const entry = (id: string, order: number) =>
    ({ id, order, path: '/p', body: { id }, said: { act: 'cut', on: '2026-07-01' }, farm: 'f', state: 'waiting' }) as Entry
  await queueStore.put(entry('z', 1))
  await queueStore.put(entry('a', 2))
  await keep('known', { at: 1 })
  await forgetKept()
  assert.equal(await kept('known'), undefined)
  assert.deepEqual((await queueStore.all()).map(e => e.id), ['z', 'a'])
  await queueStore.remove('z')
  assert.deepEqual((await queueStore.all()).map(e => e.id), ['a'])
})

test('an entry counts as kept when it is on the disk, and the entries of one act are kept together or not at all', async () => {
  const begin = IDBDatabase.prototype.transaction
  const seen: string[] = []
  IDBDatabase.prototype.transaction = function (this: IDBDatabase, ...asked: Parameters<typeof begin>) {
    const tx = begin.apply(this, asked)
    tx.addEventListener('complete', () => seen.push(`${tx.mode} complete, ${tx.durability}`))
    return tx
  }
  const entry = (id: string, order: number) =>
    ({ id, order, path: '/p', body: { id }, said: { act: 'test', on: '2026-07-01' }, farm: 'f', state: 'waiting' }) as Entry
  try {
    await queueStore.putAll([entry('one', 1), entry('two', 2)], [])
    seen.push('kept')
  } finally {
    IDBDatabase.prototype.transaction = begin
  }
  assert.deepEqual(seen, ['readwrite complete, strict', 'kept'])
  const before = (await queueStore.all()).map(e => e.id)
  await assert.rejects(queueStore.putAll([entry('three', 3), { ...entry('four', 4), body: { no: () => 0 } } as never], []))
  assert.deepEqual((await queueStore.all()).map(e => e.id), before)
})
