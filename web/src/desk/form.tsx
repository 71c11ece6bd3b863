// A form of the desk: it is sent at once, says what the book answered, and asks for the farm's lists anew.

import type { ComponentChildren } from 'preact'
import { useState } from 'preact/hooks'
import { newId } from '../book/id'
import { refresh } from '../book/known'
import { doNow } from '../book/now'
import { Finish } from '../parts/fields'
import { useWords } from '../words/words'

interface Props<T> { path: string; body: () => object | object[]; missing: (string | false | undefined)[]; label: string; children: ComponentChildren; onDone?: (written: T) => void; said?: string }

export function Form<T>({ path, body, missing, label, children, onDone, said }: Props<T>) {
  const w = useWords()
  const [told, setTold] = useState<{ text: string; bad: boolean }>()
  const [busy, setBusy] = useState(false)
  const send = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    setTold(undefined)
    const bodies = [body()].flat()
    for (const one of bodies) {
      const done = await doNow<T>(path, one, newId())
      if (!('written' in done)) {
        setTold({ bad: true, text: 'problem' in done ? [done.problem.detail, ...(done.problem.errors ?? []).map(x => x.detail)].join(' ') : w.acts.form.online })
        break
      }
      if (one === bodies[bodies.length - 1]) {
        setTold({ bad: false, text: said ?? w.acts.form.written })
        await refresh({ lists: true })
        onDone?.(done.written)
      }
    }
    setBusy(false)
  }
  return (
    <form onSubmit={send}>
      {children}
      {told && <p class={told.bad ? 'told slip' : 'note'} role={told.bad ? 'alert' : 'status'} lang={told.bad ? 'en' : undefined}><bdi>{told.text}</bdi></p>}
      <Finish missing={missing} busy={busy} label={label} />
    </form>
  )
}
