// Opening the book on this phone: what was kept, who is signed in, in which language.

import { forgetKept, keep, kept, queueStore } from './keep'
import { get, NoSignal, Refused } from './http'
import { refresh } from './known'
import { startSending, sync } from './sync'
import { change, current, type Habits, type Known, type Language, type SentNote } from './state'
import type { Farm } from './records'

interface Settings { token: string; farm: string; doer: string; language?: Language }

export async function openBook(): Promise<void> {
  const [settings, known, sent, habits, queue] = await Promise.all([
    kept<Settings>('settings'), kept<Known>('known'), kept<SentNote[]>('sent'), kept<Habits>('habits'), queueStore.all(),
  ])
  const phone: Language = navigator.language.startsWith('es') ? 'es' : 'en'
  change({
    ready: true, token: settings?.token ?? '', farm: settings?.farm ?? '', doer: settings?.doer ?? '',
    language: settings?.language ?? phone, chosenLanguage: !!settings?.language, known, sent: sent ?? [], habits: habits ?? {}, queue,
  })
  // Ask the browser not to clear the store when space runs low: waiting entries exist nowhere else.
  navigator.storage?.persist?.().catch(() => undefined)
  startSending()
  setInterval(() => change({ now: Date.now() }), 20_000)
  // When somebody comes back to the phone, what it shows should be fresh.
  addEventListener('visibilitychange', () => document.visibilityState === 'visible' && void refresh())
  if (current().token) {
    await sync()
    await refresh({ lists: true })
  }
}

function saveSettings(): Promise<unknown> {
  const { token, farm, doer, language, chosenLanguage } = current()
  const settings: Settings = { token, farm, doer, ...(chosenLanguage ? { language } : {}) }
  return keep('settings', settings)
}

export type SignIn = 'ok' | 'no-signal' | 'unknown' | 'other-farm'

// signIn takes a token once the service knows it. Entries of another farm that wait on this phone would have nowhere to
// go, so that comes first.
export async function signIn(text: string): Promise<SignIn> {
  const token = text.trim().replace(/^.*#/, '')
  let farm: Farm
  try {
    farm = await get<Farm>('/v1/farm', token)
  } catch (e) {
    if (e instanceof NoSignal) return 'no-signal'
    if (e instanceof Refused) return 'unknown'
    throw e
  }
  if (current().queue.some(e => e.farm !== farm.id)) return 'other-farm'
  const same = current().farm === farm.id
  change({ token, farm: farm.id, line: 'idle', failures: 0, ...(same ? {} : { known: undefined, doer: '', habits: {}, sent: [] }) })
  await saveSettings()
  await sync()
  await refresh({ lists: true })
  return 'ok'
}

// signOut forgets everything that is kept here. It is not offered while entries wait: they would be lost.
export async function signOut(): Promise<void> {
  if (current().queue.length > 0) return
  await forgetKept()
  const { language, chosenLanguage } = current()
  change({ token: '', farm: '', doer: '', known: undefined, sent: [], habits: {}, line: 'idle' })
  if (chosenLanguage) await keep('settings', { token: '', farm: '', doer: '', language })
}

export function setLanguage(language: Language): void {
  change({ language, chosenLanguage: true })
  void saveSettings()
}

// setDoer says who does the work. The language follows the person.
export function setDoer(id: string): void {
  const person = current().known?.people.find(p => p.id === id)
  const language = person?.language === 'es' ? 'es' : person?.language === 'en' ? 'en' : current().language
  change({ doer: id, language, chosenLanguage: true })
  void saveSettings()
}

export function remember(part: Habits): void {
  const habits = { ...current().habits, ...part }
  change({ habits })
  void keep('habits', habits)
}
