// Opening the book on this phone: what was kept, who is signed in, in which language.

import { forgetKept, keep, kept, queueStore, watchPages } from './keep'
import { get, NoSignal, openShared, Refused, sharedPhone } from './http'
import { refresh } from './known'
import { doNow } from './now'
import { startSending, sync } from './sync'
import { change, current, type Habits, type Known, type Language, type Phone, type SentNote } from './state'
import type { Farm } from './records'

interface Settings { token: string; farm: string; doer: string; language?: Language; person?: string; proved?: string; phone?: Phone }

export async function openBook(): Promise<void> {
  const phone: Language = navigator.language.startsWith('es') ? 'es' : 'en'
  watchPages(otherPages => change({ otherPages, ...(current().ready ? {} : { language: phone }) }))
  const [settings, known, sent, habits, queue] = await Promise.all([
    kept<Settings>('settings'), kept<Known>('known'), kept<SentNote[]>('sent'), kept<Habits>('habits'), queueStore.all(),
  ])
  change({
    ready: true, token: settings?.token ?? '', farm: settings?.farm ?? '', doer: settings?.doer ?? '', person: settings?.person ?? '', proved: settings?.proved ?? '', phone: settings?.phone,
    language: settings?.language ?? phone, chosenLanguage: !!settings?.language, known, sent: sent ?? [], habits: habits ?? {}, queue,
  })
  // Ask the browser not to clear the store when space runs low: waiting entries exist nowhere else.
  navigator.storage?.persist?.().catch(() => undefined)
  startSending()
  setInterval(() => change({ now: Date.now() }), 20_000)
  // When somebody comes back to the phone, what it shows should be fresh.
  addEventListener('visibilitychange', () => document.visibilityState === 'visible' && void refresh())
  if (current().token === sharedPhone) await askPhone()
  if (current().token) {
    await sync()
    await refresh({ lists: true })
  }
}

function saveSettings(): Promise<unknown> {
  const { token, farm, doer, person, proved, phone, language, chosenLanguage } = current()
  const settings: Settings = { token, farm, doer, person, proved, phone, ...(chosenLanguage ? { language } : {}) }
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
  change({ token, farm: farm.id, line: 'idle', failures: 0, person: '', proved: '', phone: undefined, ...(same ? {} : { known: undefined, doer: '', habits: {}, sent: [] }) })
  await saveSettings()
  await sync()
  await refresh({ lists: true })
  return 'ok'
}

// signOut forgets everything that is kept here. It is not offered while entries wait: they would be lost.
export async function signOut(): Promise<void> {
  if (current().queue.length > 0) return
  if (current().token === sharedPhone) await doNow('/v1/session/end', {})
  await forgetKept()
  const { language, chosenLanguage } = current()
  change({ token: '', farm: '', doer: '', person: '', proved: '', phone: undefined, known: undefined, sent: [], habits: {}, line: 'idle' })
  if (chosenLanguage) await keep('settings', { token: '', farm: '', doer: '', language })
}

interface PhoneAnswer { session: { label: string; shared: boolean; person_id?: string }; people: Phone['people'] }

// took notes what the book says of a shared phone: who is at it, and who may be. It ends at no one after a shift.
function took(answer: PhoneAnswer): void {
  const proved = answer.session.person_id ?? ''
  const { person } = current()
  change({ phone: { label: answer.session.label, people: answer.people }, proved, line: 'idle', ...(person ? {} : { person: proved, doer: proved }) })
  void saveSettings()
}

// askPhone asks the book who is at this shared phone. Without signal it stays as it was.
export async function askPhone(): Promise<'ok' | 'no-signal' | 'ended'> {
  try {
    took(await get<PhoneAnswer>('/v1/session', sharedPhone))
    return 'ok'
  } catch (e) {
    if (e instanceof NoSignal) return 'no-signal'
    if (!(e instanceof Refused)) throw e
    change({ line: 'signed-out', proved: '' })
    return 'ended'
  }
}

// sharePhone gives up the token that this phone was signed in with: from now on each says who they are by PIN.
export async function sharePhone(label: string): Promise<string> {
  try {
    await openShared(label, current().token)
  } catch (e) {
    if (e instanceof NoSignal) return 'no-signal'
    if (e instanceof Refused) return e.problem.detail
    throw e
  }
  change({ token: sharedPhone, person: '', proved: '', doer: '' })
  await askPhone()
  await saveSettings()
  return ''
}

// changeOver says who is at a shared phone. Without signal anybody may begin to write, and what they write waits until the
// book has taken their PIN: nothing is signed without it.
export async function changeOver(id: string, pin: string): Promise<{ problem?: string; far?: boolean }> {
  const done = await doNow<PhoneAnswer>('/v1/session/switch', { person_id: id, pin })
  if ('problem' in done) return { problem: done.problem.detail }
  if ('far' in done) return { far: true }
  change({ person: id })
  took(done.written)
  await setDoer(id) // kept before anything is written in that name
  void sync().then(() => refresh({ lists: true }))
  return {}
}

export async function writeAs(id: string): Promise<void> {
  change({ person: id })
  await setDoer(id)
}

// leavePhone says that nobody is at it any more.
export async function leavePhone(): Promise<void> {
  await doNow('/v1/session/leave', {})
  change({ person: '', proved: '', doer: '' })
  await saveSettings()
}

export function setLanguage(language: Language): void {
  change({ language, chosenLanguage: true })
  void saveSettings()
}

// setDoer says who does the work. The language follows the person.
export async function setDoer(id: string): Promise<void> {
  const person = current().known?.people.find(p => p.id === id)
  const language = person?.language === 'es' ? 'es' : person?.language === 'en' ? 'en' : current().language
  change({ doer: id, language, chosenLanguage: true })
  await saveSettings()
}

export function remember(part: Habits): void {
  const habits = { ...current().habits, ...part }
  change({ habits })
  void keep('habits', habits)
}
