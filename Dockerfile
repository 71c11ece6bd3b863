# The service alone; PostgreSQL runs beside it (docker-compose.yml).
FROM golang:1.26 AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN CGO_ENABLED=0 go build -trimpath -o /croftmark .

FROM debian:bookworm-slim
RUN useradd --system --uid 10001 --create-home croftmark
COPY --from=build /croftmark /usr/local/bin/croftmark
USER croftmark
EXPOSE 8080
ENTRYPOINT ["croftmark"]
CMD ["serve", "--listen", "0.0.0.0:8080"]
