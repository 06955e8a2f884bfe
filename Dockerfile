# One image for web, worker and beat; the command decides which it is.
FROM python:3.13-slim-bookworm AS packages
WORKDIR /app
COPY requirements.txt .
# Hashes are compared, and nothing is built from source: the final stage needs no compiler.
RUN python -m venv /app/.venv \
 && /app/.venv/bin/pip install --no-cache-dir --require-hashes --only-binary :all: -r requirements.txt

FROM python:3.13-slim-bookworm
# pg_dump and pg_restore serve backup and restore.
RUN apt-get update \
 && apt-get install -y --no-install-recommends \
      postgresql-client \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --system --uid 10001 --create-home casebook \
 && install -d -o casebook -g casebook -m 0700 /var/lib/casebook /srv/casebook \
      /srv/casebook/files /srv/casebook/keys /srv/casebook/anchors /srv/casebook/backups
WORKDIR /app
ENV PATH=/app/.venv/bin:$PATH \
    PYTHONDONTWRITEBYTECODE=1 \
    PYTHONUNBUFFERED=1 \
    PYTHONTZPATH= \
    CASEBOOK_VAR_DIR=/var/lib/casebook \
    CASEBOOK_FILES_DIR=/srv/casebook/files \
    CASEBOOK_KEYS_DIR=/srv/casebook/keys \
    CASEBOOK_TRAIL_ANCHOR_DIR=/srv/casebook/anchors \
    CASEBOOK_BACKUP_DIR=/srv/casebook/backups \
    CASEBOOK_STATIC_ROOT=/app/staticfiles
COPY --from=packages /app/.venv /app/.venv
COPY manage.py ./
COPY clinic clinic
COPY whitening whitening
COPY templates templates
COPY static static
COPY locale locale
# Keys of no consequence: fonts and style sheets depend on none, and these stay out of the final environment.
RUN CASEBOOK_SECRET_KEY=only-while-the-image-is-built-only-while-the-image-is-built \
    CASEBOOK_FIELD_KEYS=b25seS13aGlsZS10aGUtaW1hZ2UtaXMtYnVpbHQtISE= \
    CASEBOOK_VAR_DIR=/tmp/build \
    sh -c "python manage.py build_fonts && python manage.py collectstatic --noinput" \
 && python -m compileall -q clinic whitening \
 && rm -rf /tmp/build && chmod -R a+rX /app
USER casebook
VOLUME ["/var/lib/casebook", "/srv/casebook/files", "/srv/casebook/keys", "/srv/casebook/anchors"]
EXPOSE 8000
CMD ["gunicorn", "clinic.config.wsgi:application", "--preload", "--workers", "2", "--timeout", "90", "--max-requests", "5000", "--no-control-socket", "--bind", "0.0.0.0:8000"]
