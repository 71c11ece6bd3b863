// A judgement as people see it: gate, word, and why.

import type { Reason, Verdict } from '../book/records'
import { gravest, refuses, type Seen } from '../book/judge'
import { refresh } from '../book/known'
import { today } from '../book/sync'
import { useBook } from '../book/state'
import { Gate } from '../draw/gate'
import { age, fullDay, said, useWords } from '../words/words'

export function VerdictWord({ verdict }: { verdict: Verdict }) {
  const w = useWords()
  return <span class={'verdict is-' + verdict}><Gate verdict={verdict} /><b>{w.verdict[verdict]}</b></span>
}

// Why gives the deciding reason in one sentence.
export function Why({ check }: { check: Seen }) {
  const w = useWords()
  if (check.careful) {
    const { why, what, on } = check.careful
    const text = { unsent: w.careful.unsent, seen: w.acts.careful.seen, held: w.mend.holds.held, opened: (_: string, day: string) => w.careful.opened(day) }[why]
    return <p class="why">{text(what ?? '', fullDay(w, on))}</p>
  }
  const reason = gravest(check)
  if (!reason) return refuses(check.verdict) ? null : <p class="why">{w.today.clearReason}</p>
  return <ReasonText reason={reason} />
}

export function ReasonText({ reason }: { reason: Reason }) {
  const { text, lang } = said(reason)
  return <p class="why" lang={lang}><Told text={text} /></p>
}

// Told writes a sentence of the book with its days as people say them.
export function Told({ text }: { text: string }) {
  const w = useWords()
  const parts = text.split(/(\d{4}-\d\d-\d\d)/)
  return <bdi>{parts.map((part, i) => (i % 2 ? <time key={i} dateTime={part}>{fullDay(w, part)}</time> : part))}</bdi>
}

// Reasons lists everything that spoke, with who says it.
export function Reasons({ reasons }: { reasons: Reason[] }) {
  const w = useWords()
  return (
    <ul class="reasons">
      {reasons.map((r, i) => (
        <li key={i}>
          <ReasonText reason={r} />
          <p class="cite"><b>{w.verdict[r.verdict]}</b>: {w.authority[r.authority] ?? r.authority}{r.citation ? ', ' + r.citation : ''}</p>
        </li>
      ))}
    </ul>
  )
}

// Stale says so wherever a judgement is shown that the book has not given just now. It stands below what it is about: the
// head of every page tells the age as well, and nothing may move under a thumb when the signal goes.
export function Stale() {
  const { known, line, now } = useBook()
  const w = useWords()
  if (!known) return line === 'no-signal' ? <p class="stale" role="status">{w.age.never} {w.wait.noSignal}</p> : <p role="status">{w.working}</p>
  const otherDay = known.on !== today()
  if (line !== 'no-signal' && !otherDay) return null
  return (
    <div class="stale" role="status">
      {line === 'no-signal' && <p>{w.age.offlineCheck(age(w, known.at, now))}</p>}
      {otherDay && <p>{w.age.otherDay(fullDay(w, known.on))}</p>}
      <button type="button" onClick={() => void refresh()}>{w.age.reload}</button>
    </div>
  )
}
