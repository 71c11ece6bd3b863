// Days are the farm's calendar days, written YYYY-MM-DD. They are never instants, so no zone can shift them.

export function dayIn(zone: string | undefined, at = new Date()): string {
  const parts = new Intl.DateTimeFormat('en-CA', { timeZone: zone || undefined, year: 'numeric', month: '2-digit', day: '2-digit' }).formatToParts(at)
  const get = (type: string) => parts.find(p => p.type === type)?.value ?? ''
  return `${get('year')}-${get('month')}-${get('day')}`
}

// timeIn is the hour and minute of a moment on the farm's clock, whatever the phone's zone.
export function timeIn(zone: string | undefined, at = new Date()): string {
  return new Intl.DateTimeFormat('en-GB', { timeZone: zone || undefined, hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(at)
}

// isPast tells whether a moment that the book gave has passed. Moments are compared as such: their texts differ by offset.
export const isPast = (at: string, now = new Date()): boolean => new Date(at) < now

const noon = (day: string) => new Date(day + 'T12:00:00Z')

export function addDays(day: string, n: number): string {
  const d = noon(day)
  d.setUTCDate(d.getUTCDate() + n)
  return d.toISOString().slice(0, 10)
}

export function daysBetween(from: string, to: string): number {
  return Math.round((noon(to).getTime() - noon(from).getTime()) / 86400000)
}

// sayDay writes a day for people: "Tue, Nov 25"; with the year when it is not this one.
export function sayDay(day: string, language: string, today: string): string {
  if (!/^\d{4}-\d\d-\d\d$/.test(day)) return day
  const year = day.slice(0, 4) !== today.slice(0, 4) ? ({ year: 'numeric' } as const) : {}
  return new Intl.DateTimeFormat(language, { weekday: 'short', day: 'numeric', month: 'short', timeZone: 'UTC', ...year }).format(noon(day))
}

// instant writes a moment with the phone's offset, as the book wants it.
export function instant(at = new Date()): string {
  const pad = (n: number) => String(Math.floor(Math.abs(n))).padStart(2, '0')
  const offset = -at.getTimezoneOffset()
  const local = new Date(at.getTime() + offset * 60000).toISOString().slice(0, 19)
  return `${local}${offset < 0 ? '-' : '+'}${pad(offset / 60)}:${pad(offset % 60)}`
}
