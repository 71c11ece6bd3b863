// Answer a buyer or an inspector: what was asked, until when, the packet from the book, and that it was answered.

import { useState } from 'preact/hooks'
import { readCode } from '../book/code'
import { doNow, useAnswer } from '../book/now'
import { dayIn, instant, isPast, timeIn } from '../book/days'
import { useBook } from '../book/state'
import { today, write } from '../book/sync'
import { Far } from '../parts/far'
import { Finish, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { FileButton } from '../parts/picture'
import { go, type Place } from '../route'
import { day, useWords } from '../words/words'

interface Asked {
  id: string
  asked_by: string
  asked_at: string
  due_at?: string
  due_by?: string
  overdue?: boolean
  for: string
  about: Record<string, string>
  question?: string
  answered_at?: string
  answer?: string
  voided?: boolean
}

export function Ask({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.ask
  const part = place.parts[1]
  if (part === 'new') return <New />
  if (part) return <One id={part} />
  return <All t={t} />
}

function All({ t }: { t: ReturnType<typeof useWords>['acts']['ask'] }) {
  const w = useWords()
  const asked = useAnswer<Asked[]>('/v1/traceback-requests')
  const { known } = useBook()
  const list = (asked.value ?? []).filter(a => !a.voided)
  const zone = known?.farm.time_zone
  const groups: [string, Asked[]][] = [[t.open, list.filter(a => !a.answered_at)], [t.answered, list.filter(a => a.answered_at)]]
  return (
    <Page title={t.title} under={t.lead}>
      <p><a class="go main" href="/app/ask/new">{t.new}</a></p>
      <Far of={asked} />
      {asked.value && list.length === 0 && <p>{t.none}</p>}
      {groups.filter(([, here]) => here.length > 0).map(([title, here]) => (
        <section class="leaf" key={title}>
          <h2>{title} <span class="count">{here.length}</span></h2>
          <ul class="acts-list">
            {here.map(a => (
              <li key={a.id}><a href={'/app/ask/' + a.id}><b><Name>{a.asked_by}</Name></b> <span><Name>{Object.values(a.about).filter(v => !/^[0-9a-f]{8}-/.test(v)).join(', ')}</Name>, {day(w, dayIn(zone, new Date(a.asked_at)))}
                {!a.answered_at && a.due_at && <>, {isPast(a.due_at) ? t.overdue : t.due(day(w, dayIn(zone, new Date(a.due_at))))}</>}</span></a></li>
            ))}
          </ul>
        </section>
      ))}
      <Helper />
    </Page>
  )
}

function One({ id }: { id: string }) {
  const w = useWords()
  const t = w.acts.ask
  const { known } = useBook()
  const asked = useAnswer<Asked>('/v1/traceback-requests/' + id)
  const [answer, setAnswer] = useState('')
  const [told, setTold] = useState('')
  const [busy, setBusy] = useState(false)
  const a = asked.value
  const zone = known?.farm.time_zone
  const send = async (e: Event) => {
    e.preventDefault()
    if (!answer.trim() || busy) return
    setBusy(true)
    const done = await doNow('/v1/traceback-requests/' + id + '/corrections', { reason: t.answered, changes: { answered_at: instant(), answer: answer.trim() } })
    setBusy(false)
    setTold('written' in done ? w.acts.form.written : 'problem' in done ? done.problem.detail : w.acts.form.online)
    if ('written' in done) asked.again()
  }
  return (
    <Page title={a ? <Name>{a.asked_by}</Name> : t.title}>
      <Far of={asked} />
      {told && <p class="why" role="status"><bdi>{told}</bdi></p>}
      {a && (
        <>
          {a.question && <p class="big"><Name>{a.question}</Name></p>}
          <dl class="facts">
            <dt>{t.about}</dt><dd><Name>{Object.entries(a.about).map(([key, v]) => (key === 'customer_id' ? known?.customers?.find(c => c.id === v)?.name ?? '' : v)).join(', ')}</Name></dd>
            <dt>{t.for}</dt><dd>{a.for === 'buyer' ? t.buyer : t.authority}</dd>
            {a.due_at && !a.answered_at && <><dt>{t.open}</dt><dd>{isPast(a.due_at) ? t.overdue : t.due(`${day(w, dayIn(zone, new Date(a.due_at)))} ${timeIn(zone, new Date(a.due_at))}`)}</dd></>}
            {a.answered_at && <><dt>{t.answered}</dt><dd>{day(w, dayIn(zone, new Date(a.answered_at)))}: <Name>{a.answer}</Name></dd></>}
          </dl>
          <section class="leaf">
            <h2>{t.packet}</h2>
            <p class="acts">
              {Object.entries(t.files).map(([ending, name]) => <FileButton key={ending} main={ending === 'pdf'} path={`/v1/traceback-requests/${id}/packet.${ending}`} name={`packet-${a.asked_at.slice(0, 10)}.${ending}`}>{name}</FileButton>)}
              <FileButton path={`/v1/traceback-requests/${id}/epcis.json`} name={`packet-${a.asked_at.slice(0, 10)}.epcis.json`}>{t.events}</FileButton>
            </p>
          </section>
          {!a.answered_at && (
            <form onSubmit={send}>
              <Text long label={t.answer} value={answer} onValue={setAnswer} />
              <button class="main whole" disabled={!answer.trim() || busy}>{t.send}</button>
            </form>
          )}
        </>
      )}
      <Helper />
    </Page>
  )
}

function New() {
  const w = useWords()
  const t = w.acts.ask
  const { known } = useBook()
  const customers = known?.customers ?? []
  const [d, put] = useDraft({ who: '', for: '', customer: '', by: 'code', code: '', number: '', about: '', on: today(), question: '', due: '' })
  const [busy, setBusy] = useState(false)
  const reading = readCode(d.code)
  const about = d.by === 'code' ? (reading.state === 'fits' ? (reading.crate ? { crate: reading.text } : { lot: reading.lot }) : undefined)
    : d.by === 'number' ? (d.number.trim() ? { reference: d.number.trim() } : undefined) : d.about ? { customer_id: d.about, on: d.on } : undefined
  const missing = [!d.for && t.for, d.for === 'buyer' && !d.customer && t.need.which, !d.who.trim() && t.need.who, !about && t.need.about]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const { id, sent } = await write({
      path: '/v1/traceback-requests',
      body: {
        asked_by: d.who.trim(), asked_at: instant(), for: d.for, about, ...(d.for === 'buyer' ? { customer_id: d.customer } : {}), ...(d.question.trim() ? { question: d.question.trim() } : {}),
        ...(d.due ? { due_at: instant(new Date(d.due)) } : {}), done_at: undefined,
      },
      said: { act: 'request', thing: d.who.trim() },
    })
    go(sent.kind === 'written' ? '/app/ask/' + id : '/app/entry/' + id, true)
  }
  const choose = customers.map(c => ({ id: c.id, label: <Name>{c.name}</Name> }))
  return (
    <Page title={t.new}>
      <form onSubmit={done}>
        <Pick legend={t.for} three chosen={[d.for]} onPick={id => put({ for: id })} choices={[{ id: 'buyer', label: t.buyer }, { id: 'authority', label: t.authority }]} />
        {d.for === 'buyer' && <Pick legend={t.which} chosen={[d.customer]} onPick={id => put({ customer: id, who: d.who || customers.find(c => c.id === id)?.name || '' })} choices={choose} />}
        <Text label={t.who} value={d.who} onValue={who => put({ who })} />
        <Pick legend={t.about} three chosen={[d.by]} onPick={by => put({ by })} choices={[{ id: 'code', label: t.byCode }, { id: 'number', label: t.byNumber }, { id: 'day', label: t.byDay }]} />
        {d.by === 'code' && <Text label={t.code} value={d.code} onValue={code => put({ code })} />}
        {d.by === 'code' && d.code && reading.state !== 'fits' && <p class="told">{reading.state === 'slip' ? w.look.slip : w.look.more}</p>}
        {d.by === 'number' && <Text label={t.number} value={d.number} onValue={number => put({ number })} />}
        {d.by === 'day' && <><Pick legend={t.which} chosen={[d.about]} onPick={about => put({ about })} choices={choose} /><Text kind="date" label={t.day} value={d.on} onValue={on => put({ on })} /></>}
        <Text kind="datetime-local" label={t.until} value={d.due} onValue={due => put({ due })} />
        <Text long label={t.question} value={d.question} onValue={question => put({ question })} />
        <Finish missing={missing} busy={busy} label={w.acts.form.done} />
      </form>
      <Helper />
    </Page>
  )
}
