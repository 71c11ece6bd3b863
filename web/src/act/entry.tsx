// What became of something written on this phone: it waits, the book has it, or the book refused it. The page changes by
// itself when the entry is sent.

import { useBook, type SentNote } from '../book/state'
import { recordOf } from '../book/kinds'
import type { Entry } from '../book/queue'
import { CodeText, LabelOf } from '../parts/label'
import { PicturesOf, Sending } from '../parts/pictures'
import { EntryLine, RefusedEntry } from '../parts/entryline'
import { sayOut } from '../parts/facts'
import { Helper, Name, Page } from '../parts/page'
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
  const text = entry.said.act === 'cut' ? w.cut.later : entry.said.act === 'spread' || entry.said.act === 'spray' ? w.spread.later : w.acts.form.waits
  return (
    <Page title={w.cut.laterTitle}>
      <EntryLine said={entry.said} pictures={entry.pictures} />
      <p class="why" role="status">{text}</p>
      <Sending id={entry.id} />
      <PicturesOf pictures={entry.pictures} />
      <Onward act={entry.said.act} />
      <Helper />
    </Page>
  )
}

function Made({ note }: { note: SentNote }) {
  const w = useWords()
  const { act } = note.entry.said
  const { code, held, warnings, rejudged, crate_codes: crates, out_of_limits: out } = note.record
  const title = act === 'cut' ? (held ? w.cut.heldTitle : w.cut.madeTitle) : act === 'spread' ? w.spread.madeTitle : w.acts.made[act] ?? w.mend.act[act] ?? w.pile.madeTitle
  const lot = code && (act === 'cut' || act === 'pack')
  return (
    <Page title={title}>
      {lot && <CodeText code={code} />}
      <EntryLine said={note.entry.said} />
      {!lot && <p role="status">{w.spread.made}</p>}
      <PicturesOf pictures={note.entry.pictures} />
      {crates && crates.length > 0 && <p>{w.acts.pack.cratesMade(crates.length)}</p>}
      {out?.map((o, i) => <p key={i} class="why" role="alert"><b>{w.acts.log.out}:</b> <Name>{sayOut(w, o)}</Name></p>)}
      {(warnings ?? []).map((text, i) => <p key={i} class="why" lang="en"><Told text={text} /></p>)}
      {rejudged && rejudged.length > 0 && (
        <section class="refusal">
          <h2>{w.spread.rejudged}</h2>
          <ul>{rejudged.map(l => <li key={l.code}>{w.spread.becomes(l.code, w.verdict[l.then], w.verdict[l.now])}</li>)}</ul>
        </section>
      )}
      {lot && <LabelOf code={code} lotId={note.id} containers={Number(note.entry.body.containers ?? crates?.length ?? 0)} />}
      {recordOf(note.entry) && <p><a class="go" href={recordOf(note.entry)}>{w.mend.again}</a></p>}
      <Onward act={act} lot={code} />
      <Helper />
    </Page>
  )
}

// Where the next one of its kind is written.
const again: Record<string, string> = {
  spray: 'spray', see: 'seen', water: 'water/field', wash: 'water/wash', pack: 'pack', load: 'load', graze: 'graze', log: 'log', action: 'alerts', request: 'ask',
  deliver: 'deliver', hold: 'holds', return: 'back', lost: 'lost', test: 'water/test', mend: 'lately', void: 'lately',
}

function Onward({ act, lot }: { act: string; lot?: string }) {
  const w = useWords()
  return (
    <p class="acts">
      {act === 'cut' && <a class="go" href="/app/cut">{w.cut.next}</a>}
      {act === 'spread' && <a class="go" href="/app/spread">{w.spread.next}</a>}
      {(act === 'read' || act === 'turn') && <a class="go" href="/app/pile">{w.pile.next}</a>}
      {act === 'pack' && lot && <a class="go main" href={'/app/load?lot=' + lot}>{w.acts.pack.load}</a>}
      {again[act] && <a class="go" href={'/app/' + again[act]}>{act === 'pack' ? w.acts.pack.next : act === 'load' ? w.acts.load.next : act === 'mend' || act === 'void' ? w.mend.lately.title : act === 'hold' ? w.mend.holds.title : w.acts.form.again}</a>}
      <a class="go" href="/app/today">{w.tab.today}</a>
    </p>
  )
}
