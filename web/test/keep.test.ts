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
