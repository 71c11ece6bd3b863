// Pictures for records: made small on the phone, and named by their hash before the book has them.

import { sha256 } from '@noble/hashes/sha2.js'
import { bytesToHex } from '@noble/hashes/utils.js'
import { instant } from './days'
import type { Picture } from './queue'

// Longest is the longer side of a picture that is sent, in pixels: enough to read a label or a lab's paper.
const longest = 1600

// Taken is a picture that was just taken or chosen and belongs to nothing yet.
export interface Taken extends Picture { content: ArrayBuffer }

export class Unreadable extends Error {}

// take makes a picture ready for the book. A photo is drawn anew: it comes out smaller, upright, and without what the
// camera wrote into it, also the place. A PDF stays as it is.
export async function take(file: File, camera: boolean): Promise<Taken> {
  const paper = (await file.slice(0, 5).text()) === '%PDF-'
  const content = await (paper ? file : await drawnAnew(file)).arrayBuffer()
  const at = instant(camera ? new Date() : new Date(Math.min(Date.now(), file.lastModified || Date.now())))
  const name = (paper ? file.name.replace(/[\\/]/g, '-').slice(-120) : '') || `${at.slice(0, 16).replace(/\D/g, '-')}${paper ? '.pdf' : '.jpg'}`
  return { hash: bytesToHex(sha256(new Uint8Array(content))), bytes: content.byteLength, name, type: paper ? 'application/pdf' : 'image/jpeg', at, content }
}

// fit gives the size of a picture whose longer side is at most so long.
export function fit(width: number, height: number, most = longest): { width: number; height: number } {
  const shrink = Math.min(1, most / Math.max(width, height, 1))
  return { width: Math.max(1, Math.round(width * shrink)), height: Math.max(1, Math.round(height * shrink)) }
}

async function drawnAnew(file: Blob): Promise<Blob> {
  const url = URL.createObjectURL(file)
  try {
    const image = new Image()
    image.src = url
    await image.decode().catch(() => { throw new Unreadable() })
    const canvas = document.createElement('canvas')
    Object.assign(canvas, fit(image.naturalWidth, image.naturalHeight))
    const pen = canvas.getContext('2d')!
    pen.fillStyle = '#fff' // under what was see-through
    pen.fillRect(0, 0, canvas.width, canvas.height)
    pen.drawImage(image, 0, 0, canvas.width, canvas.height)
    const drawn = await new Promise<Blob | null>(resolve => canvas.toBlob(resolve, 'image/jpeg', 0.8))
    if (!drawn) throw new Unreadable()
    return drawn
  } finally {
    URL.revokeObjectURL(url)
  }
}

// sizeOf writes a size for people.
export const sizeOf = (bytes: number): string => (bytes < 1_000_000 ? `${Math.max(1, Math.round(bytes / 1000))} kB` : `${(bytes / 1_000_000).toFixed(1)} MB`)
