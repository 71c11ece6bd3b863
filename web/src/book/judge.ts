// The phone never judges. It shows the book's last judgement, and turns careful where it knows that judgement may be
// stale: something spread here has not reached the book yet, or the day has changed.

import type { Check, Reason, Verdict } from './records'
import { verdicts } from './records'
import type { Entry } from './queue'

export interface Seen extends Check {
  careful?: { why: 'unsent' | 'seen' | 'opened' | 'held'; what?: string; on: string }
}

// untold lists the entries that the last known judgement can't know of: those that wait, and those that were sent after
// it was asked for. Signal may go just between the sending and the asking.
export function untold(queue: Entry[], sent: { at: number; entry: Entry }[], knownAt: number): Entry[] {
  return [...queue, ...sent.filter(n => n.at >= knownAt).map(n => n.entry)]
}

const stricter = (a: Verdict, b: Verdict): Verdict => (verdicts.indexOf(a) > verdicts.indexOf(b) ? a : b)
export const refuses = (v: Verdict): boolean => verdicts.indexOf(v) >= verdicts.indexOf('wait')

export function seenHere(check: Check, knownFor: string, today: string, queue: Entry[]): Seen {
  const unsent = queue.find(e => e.touches?.bed_ids.includes(check.bed_id))
  if (unsent) {
    return { ...check, verdict: stricter(check.verdict, 'ask'), careful: { why: unsent.touches!.held ? 'held' : unsent.touches!.seen ? 'seen' : 'unsent', what: unsent.touches!.what, on: unsent.touches!.on } }
  }
  // The first clear day has come since the book was last asked. It may have learnt more in the meantime.
  if (check.verdict === 'wait' && check.clear_on && check.clear_on <= today && knownFor < today) {
    return { ...check, verdict: 'ask', careful: { why: 'opened', on: check.clear_on } }
  }
  return check
}

// gravest picks the reason that decides: the one of the check's own verdict, the latest first clear day first.
export function gravest(check: Check): Reason | undefined {
  const same = check.reasons.filter(r => r.verdict === check.verdict)
  const from = same.length > 0 ? same : check.reasons
  return [...from].sort((a, b) => verdicts.indexOf(b.verdict) - verdicts.indexOf(a.verdict) || (b.clear_on ?? '').localeCompare(a.clear_on ?? ''))[0]
}

// Materials that hold no manure by their category. Anything else makes the phone careful until the book has judged.
const harmless = ['plant-material', 'mineral', 'seed', 'transplant', 'sanitizer']
export const mayHoldManure = (category: string | undefined, species?: string): boolean =>
  !category || !harmless.includes(category) || !!species

// heldHere lists the lots that were put on hold on this phone and that the book may not know of yet.
export const heldHere = (queue: Entry[]): Set<string> => new Set(queue.flatMap(e => e.touches?.lot_ids ?? []))
