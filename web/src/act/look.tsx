// Look up a code: typed or scanned. The check characters are tried on the phone before anything is asked.

import { useEffect, useState } from 'preact/hooks'
import { readCode } from '../book/code'
import { get, NoSignal, Refused } from '../book/http'
import type { FoundLot, Lot, Trace } from '../book/records'
import { useBook } from '../book/state'
import { whyHeld } from '../parts/facts'
import { CodeText, LabelOf } from '../parts/label'
import { Helper, Name, Page } from '../parts/page'
import { NodeLine } from '../parts/tracenode'
import { Scan } from '../parts/scan'
import { Reasons, VerdictWord } from '../parts/verdict'
import { go, type Place } from '../route'
import { age, amount, day, useWords } from '../words/words'

export function Look({ place }: { place: Place }) {
  const w = useWords()
  const code = place.parts[1] ?? ''
  const [typed, setTyped] = useState(code)
  const reading = readCode(typed)
  const open = (text: string) => {
    const r = readCode(text)
    if (r.state === 'fits') go('/app/code/' + r.text)
    else setTyped(text)
  }
  const told = { empty: '', more: w.look.more, slip: w.look.slip, fits: w.look.fits }[reading.state]
  return (
    <Page title={w.look.title}>
      {code && <Found key={code} code={code} />}
      <form onSubmit={e => { e.preventDefault(); open(typed) }}>
        <label class="field" for="code">{w.look.field}</label>
        <input id="code" class="mono big" autocomplete="off" autocapitalize="characters" spellcheck={false} aria-describedby="code-hint code-told"
          value={typed} onInput={e => setTyped(e.currentTarget.value)} />
        <p id="code-hint" class="note">{w.look.hint}</p>
        <p id="code-told" class={'told ' + reading.state} role="status">{told}</p>
        <button class="main whole" disabled={reading.state !== 'fits'}>{w.look.go}</button>
      </form>
      <Scan label={w.look.scan} onCode={open} />
      <Helper />
    </Page>
  )
}

function Found({ code }: { code: string }) {
  const w = useWords()
  const { token, known, now } = useBook()
  const [lot, setLot] = useState<FoundLot>()
  const [trace, setTrace] = useState<Trace>()
  const [told, setTold] = useState('')
  const [offline, setOffline] = useState(false)
  useEffect(() => {
    let over = false
    const path = encodeURIComponent(code)
    get<FoundLot>('/v1/lots/' + path, token).then(l => !over && setLot(l)).catch(e => {
      if (over) return
      if (e instanceof NoSignal) setOffline(true)
      else setTold(e instanceof Refused ? e.problem.detail : String(e))
    })
    get<Trace>('/v1/trace/' + path, token).then(t => !over && setTrace(t)).catch(() => undefined)
    return () => { over = true }
  }, [code])

  if (told) return <p class="why" role="alert" lang="en"><bdi>{told}</bdi></p>
  if (offline) {
    const reading = readCode(code)
    const mine = reading.state === 'fits' ? known?.lots.find(l => l.code === reading.lot) : undefined
    return mine
      ? <><p class="stale" role="status">{w.look.offline(age(w, known!.listsAt, now))}</p><KeptLot lot={mine} /></>
      : <p class="stale" role="status">{w.look.notKept}</p>
  }
  if (!lot) return <p role="status">{w.working}</p>
  const then = lot.verdict_then
  const holds = lot.hold_records?.filter(h => !h.released_on) ?? []
  return (
    <section class="leaf">
      <CodeText code={lot.code} />
      <p class="entry"><b><Name>{lot.crop}</Name></b>{lot.variety && <> <Name>{lot.variety}</Name></>}</p>
      <dl class="facts">
        {lot.beds.length > 0 && <><dt>{w.look.from}</dt><dd>{lot.beds.map((b, i) => <a key={i} href={'/app/bed/' + lot.bed_ids?.[i]}><Name>{b}</Name></a>)} {lot.plot && <>(<Name>{lot.plot}</Name>)</>}</dd></>}
        {lot.from && <><dt>{w.look.from}</dt><dd>{lot.from.map(f => <a key={f.lot} class="mono" href={'/app/code/' + f.lot}><Name>{f.lot}</Name></a>)}</dd></>}
        <dt>{w.look.cutOn}</dt><dd>{day(w, lot.cut_from)}{lot.cut_to && lot.cut_to !== lot.cut_from && ' – ' + day(w, lot.cut_to)}</dd>
        {lot.packed_on && <><dt>{w.acts.pack.out}</dt><dd>{day(w, lot.packed_on)}</dd></>}
        {lot.crate ? <><dt>{w.look.crate}</dt><dd>{lot.crate} / {lot.containers}</dd></> : null}
        <dt>{w.look.amount}</dt><dd>{amount(w, lot.quantity)}</dd>
        <dt>{w.look.onHand}</dt><dd>{amount(w, lot.on_hand)}</dd>
        <dt>{w.look.where}</dt><dd><Name>{lot.shipped_to ? w.look.shippedTo(lot.shipped_to, day(w, lot.shipped_on ?? '')) : w.look.place[lot.where] ?? lot.where}</Name></dd>
        {then && <><dt>{w.look.then}</dt><dd><VerdictWord verdict={then.verdict} /></dd></>}
        <dt>{w.look.now}</dt><dd><VerdictWord verdict={lot.verdict} /></dd>
        {lot.held && <><dt>{w.look.held}</dt><dd>{holds.length ? holds.map(h => <div key={h.id}><Name>{whyHeld(w, h)}</Name></div>) : w.spread.yes}</dd></>}
      </dl>
      {lot.verdict_now.reasons.length > 0 && <Reasons reasons={lot.verdict_now.reasons} />}
      {trace && <Back trace={trace} />}
      <p class="acts">
        <a class="go" href={'/app/chain/' + lot.code}>{w.acts.chain.open}</a>
        {lot.held ? <a class="go" href="/app/holds">{w.mend.holds.title}</a> : <a class="go" href={'/app/holds/new?lot=' + lot.lot_code}>{w.mend.holds.put}</a>}
        {lot.kind === 'harvest-lot' && <a class="go" href={'/app/mend/harvest-lots/' + lot.lot_id}>{w.mend.again}</a>}
        <a class="go" href={`/app/labels/${lot.lot_id}?code=${lot.lot_code}`}>{w.mend.labels.open}</a>
      </p>
      <LabelOf code={lot.lot_code} lotId={lot.lot_id} containers={lot.containers} />
    </section>
  )
}

function KeptLot({ lot }: { lot: Lot }) {
  const w = useWords()
  const { known } = useBook()
  const crop = known?.crops.find(c => c.id === known.plantings.find(p => p.id === lot.planting_id)?.crop_id)
  const beds = known?.beds.filter(b => lot.bed_ids.includes(b.id)) ?? []
  return (
    <section class="leaf">
      <CodeText code={lot.code} />
      {crop && <p class="entry"><b><Name>{crop.name}</Name></b></p>}
      <dl class="facts">
        <dt>{w.look.from}</dt><dd>{beds.map(b => <a key={b.id} href={'/app/bed/' + b.id}><Name>{b.name}</Name></a>)}</dd>
        <dt>{w.look.cutOn}</dt><dd>{day(w, lot.cut_on ?? lot.cut_from ?? '')}</dd>
        <dt>{w.look.amount}</dt><dd>{amount(w, lot.quantity)}</dd>
        {lot.verdict_now && <><dt>{w.look.now}</dt><dd><VerdictWord verdict={lot.verdict_now} /></dd></>}
        <dt>{w.look.held}</dt><dd>{lot.held ? w.spread.yes : w.look.notHeld}</dd>
      </dl>
    </section>
  )
}

// Back lists what the lot came from, nearest first, as the links of the trace reach it.
function Back({ trace }: { trace: Trace }) {
  const w = useWords()
  const steps: { node: Trace['nodes'][number]; depth: number }[] = []
  const seen = new Set<number>([trace.start])
  let edge = [trace.start]
  for (let depth = 1; edge.length > 0; depth++) {
    // Links point the way the food goes, so towards the ground is against them.
    const next = trace.links.filter(l => edge.includes(l.to) && !seen.has(l.from)).map(l => l.from)
    edge = [...new Set(next)]
    edge.forEach(n => { seen.add(n); steps.push({ node: trace.nodes[n]!, depth }) })
  }
  return (
    <section>
      <h2>{w.look.trace}</h2>
      <ol class="steps">
        {steps.map(({ node, depth }, i) => (
          <li key={i} class={'deep-' + Math.min(depth, 5)}>
            <NodeLine node={node} />
          </li>
        ))}
      </ol>
      {trace.gaps && trace.gaps.length > 0 && <><h3>{w.look.gaps}</h3><ul>{trace.gaps.map((g, i) => <li key={i}><bdi>{w.said(g)}</bdi></li>)}</ul></>}
    </section>
  )
}
