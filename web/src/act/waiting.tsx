// Waiting to be sent: everything this phone holds that the book does not have yet, and what the book refused.

import { recordOf } from '../book/kinds'
import { useBook } from '../book/state'
import { goOnSending, sync } from '../book/sync'
import { EntryLine, RefusedEntry, WaitingEntry } from '../parts/entryline'
import { Helper, Name, Page } from '../parts/page'
import { Sending } from '../parts/pictures'
import { age, useWords } from '../words/words'

export function Waiting() {
  const w = useWords()
  const { queue, sent, line, now, stopped } = useBook()
  const refused = queue.filter(e => e.state === 'refused')
  const waiting = queue.filter(e => e.state === 'waiting')
  return (
    <Page title={w.wait.title}>
      <p role="status" class="status">
        {line === 'sending' ? w.wait.sending : line === 'signed-out' ? w.wait.signedOut : queue.length === 0 ? w.wait.none : line === 'no-signal' ? w.wait.noSignal : ''}
      </p>
      {line === 'signed-out' && <p><a class="go main" href="/app/today">{w.signInAgain}</a></p>}
      {refused.length > 0 && (
        <section class="leaf">
          <h2>{w.wait.refusedHead} <span class="count">{refused.length}</span></h2>
          <p>{w.wait.refusedLead}</p>
          {refused.map(e => <RefusedEntry key={e.id} entry={e} />)}
        </section>
      )}
      {waiting.length > 0 && (
        <section class="leaf">
          <h2>{w.wait.waitingHead} <span class="count">{waiting.length}</span></h2>
          <p><button type="button" class="main" onClick={() => (stopped ? goOnSending() : void sync())}>{w.wait.sendNow}</button></p>
          <Sending />
          <ol class="plain">{waiting.map(e => <li key={e.id}><WaitingEntry entry={e} /></li>)}</ol>
        </section>
      )}
      {sent.length > 0 && (
        <section class="leaf">
          <h2>{w.wait.sentHead}</h2>
          <ul class="plain">
            {sent.slice(0, 20).map(n => (
              <li key={n.id} class="sent">
                <div>
                  {n.record.code && <b class="mono"><Name>{n.record.code}</Name></b>}
                  <EntryLine said={n.entry.said} />
                  <p class="cite">{age(w, n.at, now)}</p>
                </div>
                {n.record.code && n.entry.said.act === 'cut' && <a class="go" href={'/app/entry/' + n.id}>{w.wait.label}<span class="unseen"> {n.record.code}</span></a>}
                {!(n.record.code && n.entry.said.act === 'cut') && recordOf(n.entry) && <a class="go" href={recordOf(n.entry)}>{w.mend.lately.look}<span class="unseen"> {n.entry.said.thing}</span></a>}
              </li>
            ))}
          </ul>
        </section>
      )}
      <Helper />
    </Page>
  )
}
