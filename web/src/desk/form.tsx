// A form of the desk: it is sent at once, says what the book answered, and asks for the farm's lists anew.

import type { ComponentChildren } from 'preact'
import { useEffect, useRef, useState } from 'preact/hooks'
import { newId } from '../book/id'
import { refresh } from '../book/known'
import { doNow, type Done } from '../book/now'
import { Finish } from '../parts/fields'
import { useWords } from '../words/words'
import { Said, WhyNot } from './said'
import { useDesk } from './words'

// At gives what the book says of a field, to stand beside it.
export type At = (pointer: string) => string | undefined

interface Props<T> {
  path: string; body: () => object | object[]; missing: (string | false | undefined)[]; label: string; onDone?: (written: T) => void; said?: string
  children: ComponentChildren | ((at: At) => ComponentChildren)
}

export function Form<T>({ path, body, missing, label, children, onDone, said }: Props<T>) {
  const w = useWords()
  const t = useDesk()
  const [told, setTold] = useState('')
  const [refused, setRefused] = useState<Exclude<Done<T>, { written: T }>>()
  const [busy, setBusy] = useState(false)
  const form = useRef<HTMLFormElement>(null)
  useEffect(() => { if (refused) form.current?.querySelector<HTMLElement>('[aria-invalid="true"]')?.focus() }, [refused])
  const send = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    setTold('')
    setRefused(undefined)
    const bodies = [body()].flat()
    for (const one of bodies) {
      const done = await doNow<T>(path, one, newId())
      if (!('written' in done)) {
        setRefused(done)
        break
      }
      if (one === bodies[bodies.length - 1]) {
        setTold(said ?? w.acts.form.written)
        await refresh({ lists: true })
        onDone?.(done.written)
      }
    }
    setBusy(false)
  }
  // What has been said beside its field is not said again below.
  const errors = refused && 'problem' in refused ? refused.problem.errors ?? [] : []
  const beside = new Set<string>()
  const at: At = pointer => {
    const error = errors.find(x => x.pointer === '#' + pointer)
    if (error) beside.add(error.pointer)
    return error?.detail
  }
  const fields = typeof children === 'function' ? children(at) : children
  const rest = [...new Set(errors.filter(x => !beside.has(x.pointer)).map(x => x.detail))]
  return (
    <form onSubmit={send} ref={form}>
      {fields}
      {refused && (
        <div class="told slip" role="alert">
          {beside.size > 0 ? <p>{t.beside}</p> : rest.length !== 1 && <p><WhyNot of={refused} /></p>}
          {rest.map(x => <p key={x}><Said>{x}</Said></p>)}
        </div>
      )}
      {told && <p class="note" role="status">{told}</p>}
      <Finish missing={missing} busy={busy} label={label} />
    </form>
  )
}
