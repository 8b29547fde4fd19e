"""Which tables do accounts need at first?"""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Shop",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("slug", models.SlugField(max_length=40, unique=True)),
                ("name", models.CharField(max_length=120)),
                ("opened_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="OneTimeCode",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("purpose", models.CharField(choices=[("first", "first"), ("device", "device")], max_length=12)),
                ("code_sha256", models.CharField(max_length=64, unique=True)),
                ("made_by", models.CharField(blank=True, max_length=40)),
                ("until", models.DateTimeField()),
                ("used_at", models.DateTimeField(blank=True, null=True)),
                (
                    "shop",
                    models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, to="accounts.shop"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Account",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("login", models.CharField(max_length=80, unique=True)),
                ("person", models.CharField(max_length=40)),
                ("name", models.CharField(max_length=120)),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("technician", "technician"),
                            ("inspector", "inspector"),
                            ("engineer", "engineer"),
                            ("manager", "manager"),
                            ("auditor", "auditor"),
                        ],
                        max_length=12,
                    ),
                ),
                ("units", models.CharField(choices=[("metric", "metric"), ("us", "us")], default="metric", max_length=6)),
                ("language", models.CharField(choices=[("en", "en"), ("de", "de")], default="en", max_length=5)),
                ("is_active", models.BooleanField(default=True)),
                ("one_time", models.BooleanField(default=True)),
                ("one_time_until", models.DateTimeField(blank=True, null=True)),
                ("password_at", models.DateTimeField()),
                ("made_by", models.CharField(max_length=40)),
                (
                    "shop",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="accounts", to="accounts.shop"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SignedIn",
            fields=[
                ("session_key", models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name="session key")),
                ("session_data", models.TextField(verbose_name="session data")),
                ("expire_date", models.DateTimeField(db_index=True, verbose_name="expire date")),
                ("device_label", models.CharField(blank=True, max_length=120)),
                ("began_at", models.DateTimeField(null=True)),
                ("seen_at", models.DateTimeField(null=True)),
                (
                    "account",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sessions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "verbose_name": "session",
                "verbose_name_plural": "sessions",
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="Device",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=12)),
                ("label", models.CharField(max_length=120)),
                ("token_sha256", models.CharField(max_length=64, unique=True)),
                ("enrolled_at", models.DateTimeField()),
                ("enrolled_by", models.CharField(max_length=40)),
                ("revoked_at", models.DateTimeField(blank=True, null=True)),
                ("photos_on", models.DateField(blank=True, null=True)),
                ("photo_bytes", models.BigIntegerField(default=0)),
                (
                    "shop",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="devices", to="accounts.shop"),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("shop", "name"), name="one_name_per_device")],
            },
        ),
        migrations.AddConstraint(
            model_name="account",
            constraint=models.UniqueConstraint(fields=("shop", "person"), name="one_account_per_person"),
        ),
    ]
