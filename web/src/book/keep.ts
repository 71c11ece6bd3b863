// What the phone keeps between visits, in IndexedDB: settings, what was last known of the farm, and the entries that
// wait to be sent with their pictures. Settings and known things may be lost and fetched again; what waits exists nowhere
// else.

import type { Entry } from './queue'

type Store = 'kept' | 'queue' | 'pictures'
let opened: Promise<IDBDatabase> | undefined

// OtherPages says that pages of different ages of the app stand in each other's way: a page of the earlier app keeps this
// one from opening, or a newer app was opened elsewhere and this page can keep nothing any more.
export type OtherPages = 'blocked' | 'newer'
let tellPages: (what?: OtherPages) => void = () => undefined
export const watchPages = (tell: typeof tellPages): void => { tellPages = tell }

function open(): Promise<IDBDatabase> {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open('croftmark', 2)
    request.onupgradeneeded = e => {
      if (e.oldVersion < 1) {
        request.result.createObjectStore('kept')
        request.result.createObjectStore('queue', { keyPath: 'id' })
      }
      request.result.createObjectStore('pictures') // by the hash of their content
    }
    request.onblocked = () => tellPages('blocked')
    request.onsuccess = () => {
      request.result.onversionchange = () => {
        request.result.close()
        tellPages('newer')
      }
      tellPages()
      resolve(request.result)
    }
    request.onerror = () => {
      if (request.error?.name === 'VersionError') tellPages('newer')
      reject(request.error)
    }
  })
  return opened
}

async function run<T>(stores: Store[], mode: IDBTransactionMode, act: (store: (name: Store) => IDBObjectStore) => IDBRequest<T>): Promise<T> {
  const db = await open()
  return new Promise((resolve, reject) => {
    // What is written is on the disk, and not only promised to it: a phone's battery may be at its end.
    const tx = db.transaction(stores, mode, mode === 'readwrite' && stores.includes('queue') ? { durability: 'strict' } : {})
    let request: IDBRequest<T> | undefined
    // An entry counts as kept when the transaction is through, not when the request is.
    tx.oncomplete = () => resolve(request!.result)
    tx.onabort = tx.onerror = () => reject(tx.error ?? request?.error)
    try {
      request = act(name => tx.objectStore(name))
    } catch (e) {
      reject(e)
      tx.abort() // what was put before it would be kept otherwise
    }
  })
}

export const kept = <T>(key: string): Promise<T | undefined> => run<T | undefined>(['kept'], 'readonly', s => s('kept').get(key))
export const keep = (key: string, value: unknown): Promise<IDBValidKey> => run(['kept'], 'readwrite', s => s('kept').put(value, key))
export const forgetKept = (): Promise<undefined> => run(['kept'], 'readwrite', s => s('kept').clear())

// picture gives the content of a picture that waits. It is kept as bytes: old browsers lose blobs.
export const picture = (hash: string): Promise<ArrayBuffer | undefined> => run<ArrayBuffer | undefined>(['pictures'], 'readonly', s => s('pictures').get(hash))

export const queueStore = {
  all: async (): Promise<Entry[]> => (await run<Entry[]>(['queue'], 'readonly', s => s('queue').getAll())).sort((a, b) => a.order - b.order),
  put: (entry: Entry): Promise<void> => queueStore.putAll([entry], []),
  // putAll keeps entries and the pictures that they name in one act, so that none is there without the others.
  putAll: async (entries: Entry[], pictures: { hash: string; content: ArrayBuffer }[]): Promise<void> => void (await run(['queue', 'pictures'], 'readwrite', s => {
    for (const p of pictures) s('pictures').put(p.content, p.hash)
    return entries.map(e => s('queue').put(e))[0]!
  })),
  // remove takes out an entry, and the pictures that no other entry names.
  remove: async (id: string): Promise<void> => void (await run(['queue', 'pictures'], 'readwrite', s => {
    s('queue').delete(id)
    const left = s('queue').getAll() as IDBRequest<Entry[]>
    left.onsuccess = () => {
      const named = new Set(left.result.flatMap(e => e.pictures ?? []).map(p => p.hash))
      const all = s('pictures').getAllKeys()
      all.onsuccess = () => all.result.filter(hash => !named.has(String(hash))).forEach(hash => s('pictures').delete(hash))
    }
    return left
  })),
}
