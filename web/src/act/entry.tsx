// What became of something written on this phone: it waits, the book has it, or the book refused it. The page changes by
// itself when the entry is sent.

import { useBook, type SentNote } from '../book/state'
import type { Entry } from '../book/queue'
import { CodeText, LabelOf } from '../parts/label'
import { EntryLine, RefusedEntry } from '../parts/entryline'
import { Helper, Page } from '../parts/page'
import { Told } from '../parts/verdict'
import type { Place } from '../route'
import { useWords } from '../words/words'

export function EntryPage({ place }: { place: Place }) {
  const w = useWords()
  const { queue, sent } = useBook()
  const id = place.parts[1]
  const note = sent.find(n => n.id === id)
  const entry = queue.find(e => e.id === id)
  if (note) return <Made note={note} />
  if (!entry) return <Page title={w.nothingHere}><p><a class="go" href="/app/today">{w.tab.today}</a></p></Page>
  if (entry.state === 'refused') {
    return (
      <Page title={entry.said.act === 'cut' ? w.cut.bookRefused : w.wait.refusedHead}>
        <RefusedEntry entry={entry} />
        <Helper />
      </Page>
    )
  }
  return <Waits entry={entry} />
}

function Waits({ entry }: { entry: Entry }) {
  const w = useWords()
  const text = { cut: w.cut.later, spread: w.spread.later, read: w.pile.later, turn: w.pile.later, print: w.pile.later }[entry.said.act]
  return (
    <Page title={w.cut.laterTitle}>
      <EntryLine said={entry.said} />
      <p class="why" role="status">{text}</p>
      <Onward act={entry.said.act} />
      <Helper />
    </Page>
  )
}

function Made({ note }: { note: SentNote }) {
  const w = useWords()
  const { act } = note.entry.said
  const { code, held, warnings, rejudged } = note.record
  const title = act === 'cut' ? (held ? w.cut.heldTitle : w.cut.madeTitle) : act === 'spread' ? w.spread.madeTitle : w.pile.madeTitle
  return (
    <Page title={title}>
      {code && act === 'cut' && <CodeText code={code} />}
      <EntryLine said={note.entry.said} />
      {act === 'spread' && <p role="status">{w.spread.made}</p>}
      {(warnings ?? []).map((text, i) => <p key={i} class="why" lang="en"><Told text={text} /></p>)}
      {rejudged && rejudged.length > 0 && (
        <section class="refusal">
          <h2>{w.spread.rejudged}</h2>
          <ul>{rejudged.map(l => <li key={l.code}>{w.spread.becomes(l.code, w.verdict[l.then], w.verdict[l.now])}</li>)}</ul>
        </section>
      )}
      {code && act === 'cut' && <LabelOf code={code} lotId={note.id} containers={Number(note.entry.body.containers ?? 0)} />}
      <Onward act={act} />
      <Helper />
    </Page>
  )
}

function Onward({ act }: { act: string }) {
  const w = useWords()
  return (
    <p class="acts">
      {act === 'cut' && <a class="go" href="/app/cut">{w.cut.next}</a>}
      {act === 'spread' && <a class="go" href="/app/spread">{w.spread.next}</a>}
      {(act === 'read' || act === 'turn') && <a class="go" href="/app/pile">{w.pile.next}</a>}
      <a class="go" href="/app/today">{w.tab.today}</a>
    </p>
  )
}
