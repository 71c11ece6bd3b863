// People: who they are, what they may do, and how their phones get in.

import { useState } from 'preact/hooks'
import { doNow, useAnswer } from '../book/now'
import { useBook } from '../book/state'
import { Far } from '../parts/far'
import { OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { day, useWords } from '../words/words'
import { initialsOf } from './first'
import { Form } from './form'
import { Square } from './qr'
import { useDesk } from './words'

export function People() {
  const w = useWords()
  const t = useDesk().people
  const { known } = useBook()
  const [d, put] = useDraft({ name: '', initials: '', role: 'crew', language: 'en', pin: '' })
  const people = known?.people ?? []
  const initials = d.initials || initialsOf(d.name)
  return (
    <Page title={t.title}>
      <div class="wide-table" tabIndex={0} role="group" aria-label={t.title}><table class="lines-table">
        <thead><tr><th scope="col">{t.name}</th><th scope="col">{t.initials}</th><th scope="col">{t.role}</th></tr></thead>
        <tbody>{people.map(p => <tr key={p.id}><td><Name>{p.name}</Name></td><td><Name>{p.initials}</Name></td><td>{(t.roles[p.role] ?? p.role).split(':')[0]}{p.ends_on && `, ${day(w, p.ends_on)}`}</td></tr>)}</tbody>
      </table></div>
      <section class="leaf">
        <h2>{t.token}</h2>
        <Token />
      </section>
      <section class="leaf">
        <h2>{t.add}</h2>
        <Form path="/v1/people" label={w.acts.form.done} missing={[!d.name.trim() && t.name]} onDone={() => put({ name: '', initials: '', pin: '' })}
          body={() => ({ name: d.name.trim(), initials, role: d.role, language: d.language, ...(d.pin ? { pin: d.pin } : {}) })}>
          <Text label={t.name} value={d.name} onValue={name => put({ name })} />
          <Text label={t.initials} value={initials} onValue={initials => put({ initials })} />
          <OneOf legend={t.role} of={t.roles} value={d.role} onValue={role => put({ role })} />
          <Pick legend={t.language} three chosen={[d.language]} onPick={language => put({ language })} choices={[{ id: 'en', label: 'English' }, { id: 'es', label: 'Español' }]} />
          <Text label={t.pin} value={d.pin} onValue={pin => put({ pin: pin.replace(/\D/g, '').slice(0, 8) })} />
        </Form>
      </section>
      <Doors />
      <Helper />
    </Page>
  )
}

function Token() {
  const w = useWords()
  const t = useDesk().people
  const { known } = useBook()
  const [d, put] = useDraft({ person: '', label: '' })
  const [token, setToken] = useState('')
  if (token) {
    return (
      <>
        <p>{t.tokenLead}</p>
        <Square text={`${location.origin}/app/me#${token}`} label={t.open} />
        <p class="mono"><Name>{token}</Name></p>
        <button type="button" onClick={() => setToken('')}>{w.done}</button>
      </>
    )
  }
  return (
    <Form<{ token: string }> path="/v1/tokens" label={t.make} missing={[!d.person && t.name, !d.label.trim() && t.forWhat]} onDone={made => setToken(made.token)}
      body={() => ({ person_id: d.person, label: d.label.trim() })}>
      <Pick legend={t.name} chosen={[d.person]} onPick={person => put({ person })} choices={(known?.people ?? []).map(p => ({ id: p.id, label: <Name>{p.name}</Name> }))} />
      <Text label={t.forWhat} value={d.label} onValue={label => put({ label })} />
    </Form>
  )
}

interface Door { id: string; person_id?: string; label: string; revoked_at?: string; ended_at?: string; shared?: boolean }

// Doors are the tokens and the phones that are signed in: each can be ended from here.
function Doors() {
  const t = useDesk().people
  const tokens = useAnswer<Door[]>('/v1/tokens')
  const sessions = useAnswer<Door[]>('/v1/sessions')
  return (
    <section class="leaf">
      <h2>{t.tokens}</h2>
      <Far of={tokens} />
      <ul class="plain">
        {tokens.value?.map(d => <DoorLine key={d.id} door={d} path="/v1/tokens/" again={tokens.again} />)}
        {sessions.value?.map(d => <DoorLine key={d.id} door={d} path="/v1/sessions/" again={sessions.again} />)}
      </ul>
    </section>
  )
}

function DoorLine({ door, path, again }: { door: Door; path: string; again: () => void }) {
  const w = useWords()
  const t = useDesk().people
  const { known } = useBook()
  const [sure, setSure] = useState(false)
  const ended = door.revoked_at || door.ended_at
  return (
    <li class="sent">
      <div><b><Name>{door.label}</Name></b>{door.shared && ` (${t.phone})`}<br /><Name>{known?.people.find(p => p.id === door.person_id)?.name ?? ''}</Name></div>
      {ended ? <span>{t.ended}</span>
        : sure ? <span class="acts"><button type="button" class="main" onClick={() => void doNow(path + door.id + '/revoke', {}).then(again)}>{t.sure}</button><button type="button" onClick={() => setSure(false)}>{w.back}</button></span>
          : <button type="button" onClick={() => setSure(true)}>{t.revoke}<span class="unseen"> {door.label}</span></button>}
    </li>
  )
}
