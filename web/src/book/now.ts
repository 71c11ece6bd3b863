// What is only done with a connection: reading something afresh, and acts that must not wait on a phone.

import { useEffect, useState } from 'preact/hooks'
import { get, NoSignal, post, Refused } from './http'
import type { Problem } from './records'
import { current, useBook } from './state'

export interface Answer<T> { value?: T; told?: string; far?: boolean; again: () => void }

// useAnswer reads a path of the interface when a page opens, and again when asked to.
export function useAnswer<T>(path: string): Answer<T> {
  const { token } = useBook()
  const [round, setRound] = useState(0)
  const [answer, setAnswer] = useState<Omit<Answer<T>, 'again'>>({})
  useEffect(() => {
    let over = false
    if (!path) return
    get<T>(path, token).then(value => !over && setAnswer({ value })).catch(e => {
      if (over) return
      setAnswer(old => ({ ...old, ...(e instanceof NoSignal ? { far: true } : { told: e instanceof Refused ? e.problem.detail : String(e) }) }))
    })
    return () => { over = true }
  }, [path, round, token])
  return { ...answer, again: () => setRound(n => n + 1) }
}

export type Done<T> = { written: T } | { problem: Problem } | { far: true }

// doNow sends something that must not wait, and says what became of it.
export async function doNow<T>(path: string, body: unknown, mark?: string): Promise<Done<T>> {
  try {
    return { written: await post<T>(path, current().token, body, mark) }
  } catch (e) {
    if (e instanceof NoSignal) return { far: true }
    if (e instanceof Refused) return { problem: e.problem }
    throw e
  }
}
