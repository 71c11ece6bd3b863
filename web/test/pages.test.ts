import 'fake-indexeddb/auto'
import assert from 'node:assert/strict'
import test from 'node:test'
import { keep, kept, watchPages } from '../src/book/keep'

const opened = (version: number): Promise<IDBDatabase> => new Promise((resolve, reject) => {
  const request = indexedDB.open('croftmark', version)
  request.onupgradeneeded = () => {
    if (version > 1) return
    request.result.createObjectStore('kept')
    request.result.createObjectStore('queue', { keyPath: 'id' })
  }
  request.onsuccess = () => resolve(request.result)
  request.onerror = () => reject(request.error)
})

test('a page of the earlier app that is open elsewhere is told of, and so is a newer one', async () => {
  const told: (string | undefined)[] = []
  let blocked = (): void => undefined
  const isBlocked = new Promise<void>(resolve => { blocked = resolve })
  watchPages(what => { told.push(what); if (what === 'blocked') blocked() })

  const earlier = await opened(1) // it does not step aside
  const written = keep('known', { at: 1 })
  await isBlocked
  earlier.close()
  await written
  assert.deepEqual(told, ['blocked', undefined])
  assert.deepEqual(await kept('known'), { at: 1 })

  const newer = await opened(3) // comes through, because this page steps aside
  assert.deepEqual(told, ['blocked', undefined, 'newer'])
  await assert.rejects(keep('known', { at: 2 }))
  newer.close()
})
