// The words of the language in use, and how days and quantities are written in it.

import { current, useBook, type Language } from '../book/state'
import { sayDay } from '../book/days'
import { today } from '../book/sync'
import type { Quantity, Reason } from '../book/records'
export type { Words } from './en'
import { en, type Words } from './en'
import { es } from './es'

export const wordsOf = (language: Language): Words => (language === 'es' ? es : en)
export const useWords = (): Words => wordsOf(useBook().language)

// day writes a day as people say it, with the word for today where it is today.
export function day(w: Words, date: string): string {
  return date === today() ? w.todayDay : sayDay(date, w.locale, today())
}

export const fullDay = (w: Words, date: string): string => sayDay(date, w.locale, today())

export const amount = (w: Words, q: Quantity): string => `${q.value} ${unitName(w, q.unit, q.value)}`

// unitName gives the word for a unit: one bunch, two bunches.
export function unitName(w: Words, unit: string, value = '2'): string {
  const forms = ((w.unit as Record<string, string>)[unit] ?? unit).split('|')
  return forms[Number(value) === 1 ? 0 : forms.length - 1]!
}

export function age(w: Words, at: number, now: number): string {
  const minutes = Math.floor(Math.max(0, now - at) / 60_000)
  if (minutes < 1) return w.age.now
  if (minutes < 60) return w.age.minutes(minutes)
  if (minutes < 48 * 60) return w.age.hours(Math.floor(minutes / 60))
  return w.age.days(Math.floor(minutes / (24 * 60)))
}

// said gives a reason in the person's language, and which language it is in fact.
export function said(r: Reason): { text: string; lang: Language } {
  return current().language === 'es' && r.text_es ? { text: r.text_es, lang: 'es' } : { text: r.text, lang: 'en' }
}
