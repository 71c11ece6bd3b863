// Reading a QR code out of pixels, for browsers that have no reader of their own. It comes as a part by itself, and only
// when somebody opens the camera or chooses a picture.

import { decodeQR } from 'qr/decode.js'

export function decode(pixels: ImageData): string | undefined {
  try {
    return decodeQR(pixels, { timeLimit: 150 })
  } catch {
    return undefined // no code in this picture
  }
}
