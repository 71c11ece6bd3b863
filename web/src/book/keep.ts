// What the phone keeps between visits, in IndexedDB: settings, what was last known of the farm, and the entries that
// wait to be sent. Settings and known things may be lost and fetched again; waiting entries exist nowhere else.

import type { Entry } from './queue'

const stores = ['kept', 'queue'] as const
let opened: Promise<IDBDatabase> | undefined

function open(): Promise<IDBDatabase> {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open('croftmark', 1)
    request.onupgradeneeded = () => {
      request.result.createObjectStore('kept')
      request.result.createObjectStore('queue', { keyPath: 'id' })
    }
    request.onsuccess = () => resolve(request.result)
    request.onerror = () => reject(request.error)
  })
  return opened
}

async function run<T>(store: (typeof stores)[number], mode: IDBTransactionMode, act: (s: IDBObjectStore) => IDBRequest<T>): Promise<T> {
  const db = await open()
  return new Promise((resolve, reject) => {
    const tx = db.transaction(store, mode)
    const request = act(tx.objectStore(store))
    // An entry counts as kept when the transaction is through, not when the request is.
    tx.oncomplete = () => resolve(request.result)
    tx.onabort = tx.onerror = () => reject(tx.error ?? request.error)
  })
}

export const kept = <T>(key: string): Promise<T | undefined> => run<T | undefined>('kept', 'readonly', s => s.get(key))
export const keep = (key: string, value: unknown): Promise<IDBValidKey> => run('kept', 'readwrite', s => s.put(value, key))
export const forgetKept = (): Promise<undefined> => run('kept', 'readwrite', s => s.clear())

export const queueStore = {
  all: async (): Promise<Entry[]> => (await run<Entry[]>('queue', 'readonly', s => s.getAll())).sort((a, b) => a.order - b.order),
  put: async (entry: Entry): Promise<void> => void (await run('queue', 'readwrite', s => s.put(entry))),
  remove: async (id: string): Promise<void> => void (await run('queue', 'readwrite', s => s.delete(id))),
}
