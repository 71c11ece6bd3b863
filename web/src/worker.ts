// The service worker keeps the app itself on the phone, so that it opens without signal. It keeps no records and sends
// none: that is the app's own work, where a person can see it.

declare const SHELL: string[]
declare const MARK: string

interface Extendable extends Event { waitUntil(p: Promise<unknown>): void }
interface Fetched extends Extendable { request: Request; respondWith(r: Promise<Response>): void }
const worker = self as unknown as {
  addEventListener(name: string, act: (e: never) => void): void
  skipWaiting(): Promise<void>
  clients: { claim(): Promise<void> }
}
const shell = 'croftmark-shell-' + MARK

worker.addEventListener('install', (e: Extendable) => {
  e.waitUntil(caches.open(shell).then(c => c.addAll(SHELL)).then(() => worker.skipWaiting()))
})

worker.addEventListener('activate', (e: Extendable) => {
  e.waitUntil(caches.keys()
    .then(names => Promise.all(names.filter(n => n.startsWith('croftmark-shell-') && n !== shell).map(n => caches.delete(n))))
    .then(() => worker.clients.claim()))
})

worker.addEventListener('fetch', (e: Fetched) => {
  const url = new URL(e.request.url)
  if (e.request.method !== 'GET' || url.origin !== location.origin) return
  const ours = url.pathname === '/' || url.pathname.startsWith('/app/')
  if (!ours) return // the interface and the pages behind labels always come from the service
  const page = e.request.mode === 'navigate'
  e.respondWith(caches.match(page ? '/' : e.request, { ignoreSearch: page }).then(kept => kept ?? fetch(e.request)))
})
